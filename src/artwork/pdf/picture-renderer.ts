import type { PDFDict, PDFRawStream } from 'pdf-lib';
import { drawGrey, type PageHandle } from './draw-page.js';
import type { Objects } from './objects.js';
import { isStencil, type PictureSamples, pictureSize } from './picture-samples.js';

/** Larger pictures are left to the page's limits. */
const MAX_PIXELS = 150_000_000;
/**
 * The picture ends so much before the edge of its last pixel, pixels: the renderer puts its edges on whole pixels, outward,
 * and would stretch it by one.
 */
const WITHIN_PX = 0.05;
/** What the renderer has to know of a picture: its look, but no groups, metadata or smoothing. */
const KEYS = (
  'Type Subtype Width Height BitsPerComponent ColorSpace Decode DecodeParms Filter ImageMask Mask SMask ' +
  'SMaskInData Intent'
).split(' ');

type Library = Awaited<ReturnType<typeof import('@hyzyla/pdfium').PDFiumLibrary.init>>;

/**
 * Draws pictures whose coding only the renderer knows, each on a page of its own where one pixel is one pixel: nothing
 * is moved or widened, as it would be on the page itself.
 */
export class PictureRenderer {
  private library: Library | undefined;

  constructor(private readonly objects: Objects) {}

  /** A picture with its masks, on white; undefined where the renderer fails. */
  async draw(stream: PDFRawStream, resources: PDFDict | undefined): Promise<PictureSamples | undefined> {
    const size = this.gridOf(stream.dict);
    if (!size || size.width * size.height > MAX_PIXELS) return undefined;
    try {
      const bytes = await this.pageWith(stream, resources, size);
      const { PDFiumLibrary } = await import('@hyzyla/pdfium');
      this.library ??= await PDFiumLibrary.init();
      const document = await this.library.loadDocument(bytes);
      try {
        const grey = drawWhole(document.getPage(0) as unknown as PageHandle, size);
        return grey && { ...size, grey, isBits: false };
      } finally {
        document.destroy();
      }
    } catch {
      // Its memory may be in any state.
      this.close();
      return undefined;
    }
  }

  close(): void {
    const { library } = this;
    this.library = undefined;
    try {
      library?.destroy();
    } catch {
      // It has gone with its failure.
    }
  }

  /** The finer grid of a picture and its mask. */
  private gridOf(dict: PDFDict): { width: number; height: number } | undefined {
    const { objects } = this;
    const sizes = [dict, objects.dict(dict, 'SMask'), objects.dict(dict, 'Mask')].map(
      (each) => each && pictureSize(objects, each),
    );
    const [own] = sizes;
    return (
      own && {
        width: Math.max(...sizes.map((size) => size?.width ?? 1)),
        height: Math.max(...sizes.map((size) => size?.height ?? 1)),
      }
    );
  }

  private async pageWith(
    stream: PDFRawStream,
    resources: PDFDict | undefined,
    { width, height }: { width: number; height: number },
  ): Promise<Uint8Array> {
    const { lib } = this.objects;
    const document = await lib.PDFDocument.create({ updateMetadata: false });
    const { context } = document;
    const page = document.addPage([width, height]);
    const copier = lib.PDFObjectCopier.for(stream.dict.context, context);
    const dict = context.obj({});
    for (const key of KEYS) {
      const value = stream.dict.get(lib.PDFName.of(key));
      if (value) dict.set(lib.PDFName.of(key), copier.copy(value));
    }
    dict.set(lib.PDFName.of('Subtype'), lib.PDFName.of('Image'));
    page.node.setXObject(lib.PDFName.of('I'), context.register(lib.PDFRawStream.of(dict, stream.contents)));
    const spaces = this.objects.dict(resources, 'ColorSpace');
    if (spaces) {
      page.node
        .Resources()
        ?.set(lib.PDFName.of('ColorSpace'), lib.PDFObjectCopier.for(spaces.context, context).copy(spaces));
    }
    const ink = isStencil(this.objects, stream.dict) ? '0 g ' : '';
    page.node.addContentStream(context.register(context.stream(`${ink}${width} 0 0 ${height} 0 0 cm /I Do`)));
    return document.save({ useObjectStreams: false, updateFieldAppearances: false });
  }
}

function drawWhole(page: PageHandle, { width, height }: { width: number; height: number }): Uint8Array | undefined {
  if (!page.pageIdx) return undefined;
  try {
    const { originalWidth, originalHeight } = page.getOriginalSize();
    return drawGrey(page, {
      width,
      height,
      scaleX: (width - 2 * WITHIN_PX) / originalWidth,
      scaleY: (height - 2 * WITHIN_PX) / originalHeight,
      left: WITHIN_PX,
      top: WITHIN_PX,
      finer: 1,
      lean: 0,
    });
  } finally {
    page.module._FPDF_ClosePage(page.pageIdx);
  }
}
