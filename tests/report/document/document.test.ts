import { inflateSync } from 'node:zlib';
import { PDFiumLibrary } from '@hyzyla/pdfium';
import { PDFDocument } from 'pdf-lib';
import { describe, expect, it } from 'vitest';
import { type Block, type Report, table } from '../../../src/report/document/blocks.js';
import { reportHtml } from '../../../src/report/document/html.js';
import { reportPdf } from '../../../src/report/document/pdf.js';
import { balls, pad } from '../../rules/board.js';
import { contrast } from '../contrast.js';
import { BROWSER, inBrowser, printed } from '../in-browser.js';

const before = [pad(0, 0, 2, 1), ...balls(3, 2, 0.8, 0.3)].map((region, i) => ({ number: i + 1, region }));
const REPORT: Report = {
  title: 'Stencil <tide-gauge> & lid',
  blocks: [
    { kind: 'words', text: 'All 7 openings come out as asked (± 12 µm).', tone: 'good' },
    { kind: 'heading', text: 'What to do next' },
    { kind: 'list', items: ['Cut "lid.png" − at its own size.', 'Look at one opening.'], ordered: true },
    {
      kind: 'table',
      caption: 'Widths, mm',
      head: ['opening', 'asked', 'comes out'],
      rows: Array.from({ length: 90 }, (_, i) => [`${i + 1}`, '0.300', i === 4 ? 'not at all: '.repeat(20) : '0.301']),
    },
    {
      kind: 'picture',
      svg: '<svg xmlns="http://www.w3.org/2000/svg" width="40" height="20"><path d="M0 0H40V20Z"/></svg>',
      words: 'a wedge',
    },
    {
      kind: 'stencil',
      words: 'The stencil as asked and as cut.',
      layers: [
        { name: 'asked', openings: before },
        { name: 'as cut', openings: before.map((one) => ({ ...one, doubtful: one.number === 2 })) },
        { name: 'told', outline: true, openings: before },
        { name: 'before the rules', outline: true, hidden: true, openings: before },
      ],
    },
  ],
};

describe('reportHtml', () => {
  const html = reportHtml(REPORT);

  it('needs nothing from anywhere else', () => {
    expect(html.replaceAll('http://www.w3.org/2000/svg', '')).not.toMatch(/https?:|url\(|@import|<link|src=/);
  });

  it('writes text as text', () => {
    expect(html).toContain('<h1>Stencil &lt;tide-gauge&gt; &amp; lid</h1>');
    expect(html).toContain('Cut &quot;lid.png&quot;');
  });

  it('tells pictures in words, names the columns and rows of tables, and numbers every opening of each layer', () => {
    expect(html.match(/<svg[^>]* role="img" aria-label="[^"]+"/g)).toHaveLength(2);
    expect(html.match(/<th scope="col">/g)).toHaveLength(3);
    expect(html.match(/<th scope="row">/g)).toHaveLength(90);
    expect(html.match(/<text /g)).toHaveLength(14);
    expect(html.match(/class="opening doubtful"/g)).toHaveLength(1);
  });

  it('can be got through by headings, landmarks and labels alone', () => {
    expect(html).toMatch(/^<!doctype html>\n<html lang="en">/);
    expect(html).toMatch(/<meta name="viewport"/);
    expect(html.match(/<main>/g)).toHaveLength(1);
    expect([...html.matchAll(/<h(\d)/g)].map(([, level]) => level)).toEqual(['1', '2']);
    const controls = html.match(/<input/g) ?? [];
    expect(html.match(/<label>[^<]*<input[^>]*>[^<]*<\/label>/g)).toHaveLength(controls.length);
    expect(controls).toHaveLength(5);
    expect(html.match(/<table><caption>[^<]+<\/caption><thead>/g)).toHaveLength(1);
    expect(html.match(/<[^>]* tabindex="0"[^>]*>/g)?.every((tag) => /role="(region|img)" aria-label="/.test(tag))).toBe(
      true,
    );
  });

  it('shows states of a stencil at choice: those that are hidden at first wait for their box', () => {
    expect(html.match(/<input type="checkbox"[^>]*>/g)?.map((box) => box.includes('checked'))).toEqual([
      true,
      true,
      true,
      false,
    ]);
    expect(html.match(/<g [^>]*visibility="hidden"/g)).toHaveLength(2);
    expect(html.match(/class="opening outline"/g)).toHaveLength(2);
  });

  it('keeps the contrast of 4.5 to 1 that WCAG 2.1 asks of text, in light and dark', () => {
    for (const colours of html.matchAll(/:root\{[^}]*--paper:[^}]*\}/g)) {
      const of = (name: string): string => new RegExp(`--${name}:(#[0-9a-f]+)`).exec(colours[0])![1];
      for (const name of ['ink', 'soft', 'good', 'bad']) expect(contrast(of(name), of('paper'))).toBeGreaterThan(4.5);
      for (const name of ['open', 'doubt']) expect(contrast(of('ink'), of(name))).toBeGreaterThan(4.5);
      // Walls, borders of controls and marks of focus are no text: 3 to 1 (success criterion 1.4.11).
      for (const name of ['wall', 'bad', 'soft', 'good']) expect(contrast(of(name), of('paper'))).toBeGreaterThan(3);
    }
  });
});

describe('the stencil in a browser', () => {
  const boardOf = (sizeMm: number): Report => {
    const place = (i: number): number => ((i + 0.5) / 12) * sizeMm;
    const regions = Array.from({ length: 144 }, (_, i) => [
      pad(place(i % 12), place(Math.floor(i / 12)), 0.25, 0.7),
      pad(place(i % 12) + 0.5, place(Math.floor(i / 12)), 0.25, 0.7),
    ]).flat();
    const openings = regions.map((region, i) => ({ number: i + 1, doubtful: i === 287, region }));
    return { title: 'A board', blocks: [{ kind: 'stencil', words: 'All.', layers: [{ name: 'asked', openings }] }] };
  };
  // What one sees: letters by their height, and whether two of them or a number and the opening beside it share paper.
  const LOOK = `const look = () => { name(); const all = [...document.querySelectorAll('.numbers text')].filter((t) => t.getAttribute('display') !== 'none')
      .map((t) => ({ words: t.textContent, box: t.getBoundingClientRect(), px: Number(t.getAttribute('font-size')) / perPx() }))
      .filter(({ box }) => box.right > 0 && box.left < innerWidth);
      const on = (p, q) => p.left < q.right && q.left < p.right && p.top + 2 < q.bottom - 2 && q.top + 2 < p.bottom - 2;
      return { count: all.length, first: all[0].words, least: Math.min(...all.map(({ px }) => px)), clashes: all.filter((p, i) => all.slice(i + 1).some((q) => on(p.box, q.box))).length }; };`;

  it.skipIf(!BROWSER)('has numbers that can be read, as many as have room, doubtful openings first', () => {
    for (const sizeMm of [30, 280]) {
      // The script of the page keeps what it knows of a figure to itself.
      const page = reportHtml(boardOf(sizeMm)).replace('addEventListener(\'resize\',show);show();', (all) => `${all}window.look=(closer)=>{if(closer){view=[20,20,8,5];show()}${LOOK}return look()};`); // biome-ignore format: one call
      const result = inBrowser(page, 'result.far = look(false); result.near = look(true);');
      expect(result.far).toMatchObject({ clashes: 0, first: '288' });
      expect(result.near).toMatchObject({ clashes: 0 });
      const { far, near } = result as Record<string, { count: number; least: number }>;
      expect(far.count).toBeGreaterThanOrEqual(100);
      expect(near.count).toBeGreaterThan(0);
      expect(Math.min(far.least, near.least)).toBeGreaterThan(8.9);
    }
  });
});

/** What stands on each sheet of a report that is printed from the browser. */
async function printedPages(blocks: readonly Block[]): Promise<string[]> {
  const library = await PDFiumLibrary.init();
  const paper = await library.loadDocument(printed(reportHtml({ title: 'On paper', blocks })));
  const pages = [...paper.pages()].map((page) => page.getText());
  paper.destroy();
  library.destroy();
  return pages;
}

describe('the page on paper', () => {
  it.skipIf(!BROWSER)('has letters of paper: 32 rows fit on a sheet', async () => {
    const rows = Array.from({ length: 32 }, (_, i) => [`${i + 1}`, 'so many']);
    expect(await printedPages(table('Rows', ['row', 'what'], rows))).toHaveLength(1);
  });

  it.skipIf(!BROWSER)('has no empty sheet, and no drawing that is cut in two', async () => {
    // As tall as charts of eight panels are.
    const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="621" height="1057" viewBox="0 0 621 1057"><text x="9" y="20">top</text><text x="9" y="1050">foot</text></svg>`;
    const picture = { kind: 'picture', svg, words: 'a tall chart' } as const;
    const heading = { kind: 'heading', text: 'Plots' } as const;
    const words = { kind: 'words', text: 'It is so.' } as const;
    const pages = await printedPages([words, heading, picture, picture, words]);
    for (const page of pages) expect(page.trim()).not.toBe('');
    expect(pages.filter((page) => page.includes('top') && page.includes('foot'))).toHaveLength(2);
  });
});

describe('reportPdf', () => {
  it('says the same on pages, with nothing beyond their edges, and gives the same bytes twice', async () => {
    const bytes = await reportPdf(REPORT);
    expect(Buffer.compare(bytes, await reportPdf(REPORT))).toBe(0);
    const library = await PDFiumLibrary.init();
    const document = await library.loadDocument(bytes);
    const pages = [...document.pages()];
    expect(pages.length).toBeGreaterThan(2);
    const text = pages.map((page) => page.getText()).join('\n');
    for (const words of ['Stencil <tide-gauge> & lid', '± 12 µm', '1.', 'Widths, mm', '0.301', 'comes out']) {
      expect(text).toContain(words);
    }
    const tables = pages.map((page) => page.getText()).filter((page) => page.includes('0.301'));
    expect(tables.length).toBeGreaterThan(1);
    for (const page of tables) expect(page).toContain('comes out');
    document.destroy();
    library.destroy();
  });
});

describe('pages', () => {
  const picture = (height: number) =>
    ({
      kind: 'picture',
      svg: `<svg xmlns="http://www.w3.org/2000/svg" width="410" height="${height}"><path d="M0 0H410V${height}Z"/></svg>`,
      words: 'a wedge',
    }) as const;
  const pagesOf = async (heights: readonly number[]): Promise<number> =>
    (await PDFDocument.load(await reportPdf({ title: 'charts', blocks: heights.map(picture) }))).getPageCount();

  it('a drawing that nearly fits what is left of a page is drawn a little smaller there', async () => {
    // A page has room for some 740 points.
    expect(await pagesOf([400, 400])).toBe(1);
    expect(await pagesOf([400, 600])).toBe(2);
    expect(await pagesOf([400, 300])).toBe(1);
  });

  it('so is a stencil', async () => {
    const openings = [pad(0, 0, 1, 1), pad(60, 48, 1, 1)].map((region, i) => ({ number: i + 1, region }));
    const stencil = { kind: 'stencil', words: 'as cut', layers: [{ name: 'asked', openings }] } as const;
    const bytes = await reportPdf({ title: 'board', blocks: [picture(350), stencil] });
    expect((await PDFDocument.load(bytes)).getPageCount()).toBe(1);
  });
});

describe('a table over pages', () => {
  const pagesOf = async (rows: number): Promise<string[]> => {
    const library = await PDFiumLibrary.init();
    const table = {
      kind: 'table',
      caption: 'Widths',
      head: ['opening', 'asked'],
      rows: Array.from({ length: rows }, (_, i) => [`no ${i + 1}`, '0.300']),
    } as const;
    const lead = { kind: 'list', items: Array.from({ length: 40 }, (_, i) => `line ${i}`), ordered: false } as const;
    const document = await library.loadDocument(await reportPdf({ title: 'pages', blocks: [lead, table] }));
    const texts = [...document.pages()].map((page) => page.getText());
    document.destroy();
    library.destroy();
    return texts;
  };

  it('leaves no row or two alone, and has its head on every page', async () => {
    for (let rows = 1; rows < 90; rows += 4) {
      const texts = await pagesOf(rows);
      const here = texts.map((text) => text.match(/no \d+/g)?.length ?? 0);
      expect(here.reduce((sum, count) => sum + count, 0)).toBe(rows);
      for (const [i, count] of here.entries()) {
        if (count === 0) continue;
        expect(count, `${rows} rows, page ${i + 1}`).toBeGreaterThanOrEqual(Math.min(3, rows));
        expect(texts[i].match(/opening/g), `${rows} rows, page ${i + 1}`).toHaveLength(1);
      }
    }
  });

  it('keeps a short one in one piece', async () => {
    for (const rows of [2, 6, 12]) {
      expect((await pagesOf(rows)).filter((text) => text.includes('no '))).toHaveLength(1);
    }
  });
});

/** What is written on the pages, with the size of its letters in points. */
function writtenOn(bytes: Uint8Array): { words: string; size: number }[] {
  const text = Buffer.from(bytes).toString('latin1');
  const streams = [...text.matchAll(/stream\r?\n([\s\S]*?)\r?\nendstream/g)].map(([, packed]) =>
    inflateSync(Buffer.from(packed, 'latin1')).toString('latin1'),
  );
  return streams.flatMap((drawn) =>
    [...drawn.matchAll(/ ([\d.]+) Tf 1 0 0 1 \S+ \S+ Tm <([0-9A-F]+)> Tj/g)].map(([, size, hex]) => ({
      words: Buffer.from(hex, 'hex').toString('latin1'),
      size: Number(size),
    })),
  );
}

describe('a stencil in a PDF', () => {
  const openings = Array.from({ length: 4000 }, (_, i) => ({
    number: i + 1,
    region: pad((i % 80) * 3.5, Math.floor(i / 80) * 3.7, 0.25, 1.1),
    ...{ doubtful: i === 1659 || i === 1660, named: i === 19 },
  }));
  const reportOf = (list: typeof openings): Report => ({
    title: 'large',
    blocks: [{ kind: 'stencil', words: 'A large board.', layers: [{ name: 'asked', openings: list }] }],
  });

  it('has the numbers that matter in letters that can be read on paper', async () => {
    const written = writtenOn(await reportPdf(reportOf(openings)));
    const sizesOf = (number: number): number[] =>
      written.filter(({ words, size }) => words === `${number}` && size >= 5).map(({ size }) => size);
    expect([sizesOf(1660), sizesOf(1661)]).toEqual([[6.5], [6.5]]);
    expect(sizesOf(20)).toEqual([6.5]);
    expect(sizesOf(3000)).toEqual([]);
  });

  it('has all of them so where they are few', async () => {
    const few = openings.slice(0, 90).map((one) => ({ ...one, doubtful: false, named: false }));
    const wide = { number: 91, region: pad(0, 200, 3, 3), doubtful: false, named: false };
    const written = writtenOn(await reportPdf(reportOf([...few, wide])));
    const read = written
      .filter(({ words, size }) => size >= 5 && /^\d+$/.test(words))
      .map(({ words }) => Number(words));
    expect(read.sort((p, q) => p - q)).toEqual(Array.from({ length: 91 }, (_, i) => i + 1));
  });
});
