import { createRequire } from 'node:module';
import { Resvg } from '@resvg/resvg-js';

/**
 * An independent reader, gerber-to-svg 4.2.8 (MIT), drawn by resvg (MPL-2.0) at 100 dots a millimetre. It is right for
 * what is asked of it here; LM, LR, LS, AB, unary minus and incremental files are beyond it and checked by areas elsewhere.
 */
const gerberToSvg = createRequire(import.meta.url)('gerber-to-svg') as (
  text: string,
  options: object,
  done: (error: Error | null, svg: string) => void,
) => { viewBox: [number, number, number, number]; units: string };

export const PER_MM = 100;

/** Area and box of a layer, mm. */
export async function independentReading(
  text: string,
): Promise<{ area: number; box: [number, number, number, number] }> {
  const { svg, converter } = await new Promise<{ svg: string; converter: ReturnType<typeof gerberToSvg> }>(
    (resolve, reject) => {
      const made = gerberToSvg(text, { id: 'check', plotAsOutline: false }, (error, result) =>
        error ? reject(error) : resolve({ svg: result, converter: made }),
      );
    },
  );
  const inch = converter.units === 'in' ? 25.4 : 1;
  const [x0, y0, w, h] = converter.viewBox.map((v) => (v / 1000) * inch);
  const widthPx = Math.round(w * PER_MM);
  const { pixels, width, height } = new Resvg(svg.replace('currentColor', '#000').replaceAll('currentColor', '#000'), {
    fitTo: { mode: 'width', value: widthPx },
  }).render();
  let area = 0;
  let box: [number, number, number, number] = [Infinity, Infinity, -Infinity, -Infinity];
  const px = w / width;
  for (let row = 0; row < height; row += 1) {
    for (let column = 0; column < width; column += 1) {
      const alpha = pixels[4 * (row * width + column) + 3];
      area += alpha / 255;
      if (alpha < 128) continue;
      const x = x0 + column * px;
      const y = y0 + h - (row + 1) * px;
      box = [Math.min(box[0], x), Math.min(box[1], y), Math.max(box[2], x + px), Math.max(box[3], y + px)];
    }
  }
  return { area: area * px * px, box };
}
