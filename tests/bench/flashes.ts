/** A Gerber layer of so many flashed pads of four shapes, 1.2 x 1.4 mm apart. */
export function flashes(count: number): string {
  const side = Math.ceil(Math.sqrt(count));
  const lines = Array.from(
    { length: count },
    (_, i) => `D${10 + (i % 4)}*\nX${(i % side) * 1_200_000}Y${Math.floor(i / side) * 1_400_000}D03*`,
  );
  return `%FSLAX46Y46*%\n%MOMM*%\n%ADD10R,0.3X0.6*%\n%ADD11C,0.4*%\n%ADD12O,0.3X0.8*%\n%ADD13R,0.5X0.55*%\n${lines.join('\n')}\nM02*\n`;
}
