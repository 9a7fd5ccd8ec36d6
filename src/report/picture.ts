import { createRequire } from 'node:module';

const require = createRequire(import.meta.url);

/** The family name to write into pictures; its file comes with the package, so machines without fonts draw it too. */
export const PICTURE_FONT = 'DejaVu Sans';

async function render(svg: string, widthPx?: number) {
  const { Resvg } = await import('@resvg/resvg-js');
  return new Resvg(svg, {
    font: {
      loadSystemFonts: false,
      fontFiles: ['DejaVuSans.ttf', 'DejaVuSans-Bold.ttf', 'DejaVuSansMono.ttf'].map((name) =>
        require.resolve(`dejavu-fonts-ttf/ttf/${name}`),
      ),
      defaultFontFamily: PICTURE_FONT,
      sansSerifFamily: PICTURE_FONT,
      monospaceFamily: 'DejaVu Sans Mono',
    },
    ...(widthPx === undefined ? {} : { fitTo: { mode: 'width' as const, value: widthPx } }),
  });
}

/** The same drawing with all text turned into outlines, so that it looks the same on a machine without fonts. */
export async function outlineText(svg: string): Promise<string> {
  return (await render(svg)).toString();
}

/** Renders an SVG with the package's own font; `widthPx` sets the width of the picture. */
export async function svgToPng(svg: string, widthPx?: number): Promise<Uint8Array> {
  return (await render(svg, widthPx)).render().asPng();
}
