/** Relative luminance and contrast ratio: WCAG 2.1, W3C Recommendation, definitions of these terms. */
export function contrast(p: string, q: string): number {
  const luminance = (colour: string): number => {
    const hex = colour.length === 4 ? [...colour.slice(1)].map((c) => c + c).join('') : colour.slice(1);
    const [r, g, b] = [0, 2, 4].map((at) => {
      const share = Number.parseInt(hex.slice(at, at + 2), 16) / 255;
      return share <= 0.03928 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const [dark, light] = [luminance(p), luminance(q)].sort((a, b) => a - b);
  return (light + 0.05) / (dark + 0.05);
}
