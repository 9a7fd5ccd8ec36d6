import { describe, expect, it } from 'vitest';
import { readSvg } from '../../../src/artwork/svg/read-svg.js';
import type { Artwork, ReadOptions } from '../../../src/artwork/types.js';
import { isGrave } from '../../../src/cli/exit-codes.js';
import { InputError } from '../../../src/errors.js';
import { openingArea } from '../../../src/geometry/area.js';
import { wallError } from './reference.js';

const SHEET = 'width="20mm" height="10mm" viewBox="0 0 20 10"';
const svg = (body: string, attributes = SHEET): string =>
  `<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" ${attributes}>${body}</svg>`;
const read = (text: string, options: ReadOptions = {}): Promise<Artwork> =>
  readSvg(new TextEncoder().encode(text), options);
const totalArea = ({ openings }: Artwork): number => openings.reduce((sum, opening) => sum + openingArea(opening), 0);
const codes = ({ warnings }: Artwork): string[] => warnings.map(({ code }) => code);
const codeOf = async (text: string, options: ReadOptions = {}): Promise<string> => {
  try {
    await read(text, options);
  } catch (error) {
    if (error instanceof InputError) return error.code;
    throw error;
  }
  return 'none';
};

describe('areas known by mathematics', () => {
  const table: [string, string, number, number][] = [
    ['a rectangle', '<rect x="1" y="1" width="3" height="2"/>', 1, 6],
    [
      'a rectangle with round corners',
      '<rect x="1" y="1" width="3" height="2" rx=".5"/>',
      1,
      6 - 4 * 0.25 + Math.PI / 4,
    ],
    ['corners that are too large', '<rect x="1" y="1" width="4" height="2" rx="9"/>', 1, Math.PI * 2],
    ['a disc', '<circle cx="5" cy="5" r=".15"/>', 1, Math.PI * 0.0225],
    ['a turned ellipse', '<ellipse cx="9" cy="5" rx="3" ry="1" transform="rotate(33 9 5)"/>', 1, 3 * Math.PI],
    ['a parabola', '<path d="M2 8Q5-1 8 8Z"/>', 1, (2 / 3) * 6 * 4.5],
    ['a cubic', '<path d="M2 2C2 6 8 6 8 2Z"/>', 1, (3 / 20) * 6 * 4 * 4],
    ['a half disc by its ends', '<path d="M2 5A3 3 0 0 1 8 5Z"/>', 1, (Math.PI * 9) / 2],
    ['an arc too small for its ends', '<path d="M2 5A1 1 0 0 1 8 5Z"/>', 1, (Math.PI * 9) / 2],
    ['a ring by the even-odd rule', '<path fill-rule="evenodd" d="M1 1h8v8H1zM3 3h4v4H3z"/>', 1, 48],
    ['the same by the non-zero rule', '<path d="M1 1h8v8H1zM3 3h4v4H3z"/>', 1, 64],
    [
      'a stroke with a miter',
      '<path d="M1 1H5V5" fill="none" stroke="#000" stroke-width="1"/>',
      1,
      8 + 0.5 * 0.5 - 0.25,
    ],
    [
      'a stroke with round ends',
      '<path d="M3 3H7" stroke="#000" stroke-width="1" stroke-linecap="round"/>',
      1,
      4 + Math.PI / 4,
    ],
    [
      'a line that turns straight back, with round joins',
      '<path d="M3 3H7H4" fill="none" stroke="#000" stroke-width="1" stroke-linejoin="round"/>',
      1,
      4 + Math.PI / 8,
    ],
    [
      'a line there and back, closed, with round joins',
      '<path d="M3 3V7Z" fill="none" stroke="#000" stroke-width="1" stroke-linejoin="round"/>',
      1,
      4 + Math.PI / 4,
    ],
    [
      'a dash across the first corner of a closed line',
      '<path d="M1 1H5V5H1Z" fill="none" stroke="#000" stroke-width="1" stroke-dasharray="2 2" stroke-dashoffset="1"/>',
      4,
      4 * 2,
    ],
    ['a stroked disc', '<circle cx="5" cy="5" r="2" fill="none" stroke="#000" stroke-width=".5"/>', 1, 2 * Math.PI],
    ['a stroked square', '<rect x="1" y="1" width="4" height="4" fill="none" stroke="#000" stroke-width=".5"/>', 1, 8],
    ['fill and stroke are one', '<rect x="1" y="1" width="4" height="4" stroke="#000" stroke-width=".5"/>', 1, 20.25],
    [
      'white over black erases',
      '<rect width="20" height="10" fill="#fff"/><rect x="1" y="1" width="4" height="4"/><rect x="2" y="2" width="2" height="2" fill="white"/>',
      1,
      12,
    ],
    [
      'black over white over black',
      '<rect x="1" y="1" width="4" height="4"/><rect x="2" y="2" width="2" height="2" fill="white"/><rect x="2.5" y="2.5" width="1" height="1"/>',
      2,
      13,
    ],
    [
      'white beneath black erases nothing',
      '<circle cx="5" cy="5" r="4" fill="#fff"/><rect x="2" y="2" width="2" height="2"/>',
      1,
      4,
    ],
    ['dashes', '<path d="M1 5H11" stroke="#000" stroke-width="1" stroke-dasharray="2 1"/>', 4, 7],
    [
      'units in capitals',
      '<rect width="1PX" height="3"/><path d="M5 2h4" stroke="#000" style="stroke-width:2PX"/>',
      2,
      11,
    ],
    [
      'units of later standards',
      '<rect width="1rem" height="2"/><path d="M2 5h6" stroke="#000" stroke-width="2" stroke-dasharray="0.25rem,2px"/>',
      2,
      40,
    ],
    ...[
      '<line x2="9" y2="9" transform="translate(1)"/>',
      '<path transform="scale(2)"/><path d="M2 2" transform="scale(2)"/><path d="q" transform="scale(2)"/>',
      '<rect width="0" height="3" transform="scale(2)"/><circle style="mix-blend-mode:multiply"/>',
      '<ellipse rx="0" ry="3" transform="scale(2)"/><polygon points="1 1 5 5" transform="scale(2)"/>',
      '<use href="#e" x="3"/><use href="#h" x="3"/>',
    ].map((nothing): [string, string, number, number] => [
      `a clip path with what has no area: ${nothing}`,
      `<defs><line id="e" x2="5"/><rect id="h" style="display:none" width="9" height="9"/></defs><clipPath id="c">${nothing}<rect width="3" height="9"/></clipPath><rect width="5" height="5" clip-path="url(#c)"/>`,
      1,
      15,
    ]),
    [
      'a clip path that uses a shape with a map of its own',
      '<defs><rect id="r" width="1" height="2" transform="translate(1 1) scale(2)"/></defs><clipPath id="c"><use href="#r" x="1" transform="scale(1 .5)"/></clipPath><rect width="9" height="9" clip-path="url(#c)"/>',
      1,
      4,
    ],
  ];
  it.each(table)('%s', async (_, body, count, area) => {
    const artwork = await read(svg(body));
    expect(artwork.openings).toHaveLength(count);
    // A quarter of an ellipse is a cubic, which lies up to 0.03 % of the radius outside it.
    const isRound = /[cr][xy]?="|A\d/.test(body);
    expect(Math.abs(totalArea(artwork) / area - 1)).toBeLessThan(isRound ? 3e-4 : 3e-5);
  });

  it('curves keep their box within a tenth of a micrometre', async () => {
    const { bounds } = await read(svg('<path d="M2 5A3 2 0 0 1 8 5A3 2 0 0 1 2 5Z"/>'));
    for (const [got, want] of [
      [bounds?.minX, 2],
      [bounds?.maxX, 8],
      [bounds?.minY, 3],
      [bounds?.maxY, 7],
    ]) {
      expect(Math.abs((got ?? 0) - (want ?? 0))).toBeLessThan(1e-4);
    }
  });
});

describe('the same picture as the resvg library draws from the source', () => {
  const ink = 'fill="none" stroke="#000" stroke-width=".8"';
  const table: [string, string, string?][] = [
    ['arcs', '<path d="M2 5A3 2 20 0 1 8 5Z"/><path d="M10 5a3 2 -30 1 0 4 1z"/><path d="M15 2a1 1 0 112 2 z"/>'],
    ['curves', '<path d="M1 5C2 0 4 10 6 5S9 1 9 8Z"/><path d="M11 5q2-6 4 0t4 0v3H11z"/>'],
    [
      'paths that cross themselves',
      '<path fill-rule="evenodd" d="M5 1L7 8L1 4H9L3 8Z"/><path d="M15 1L17 8L11 4H19L13 8Z"/>',
    ],
    [
      'joins and caps',
      `<g ${ink}><path d="M1 1L5 2L2 5"/><path d="M7 1L9 5L7 9" stroke-linejoin="round" stroke-linecap="round"/><path d="M12 1L13 5L12 9" stroke-linejoin="bevel" stroke-linecap="square"/></g>`,
    ],
    [
      'a stroked curve',
      '<path d="M1 5C2-4 4 14 6 5" fill="none" stroke="#000"/><path d="M12 5c3 0 3 1 0 1" fill="none" stroke="#000" stroke-width="1.5"/>',
    ],
    [
      'the miter limit',
      '<path d="M3 2h4l-4 .5z" fill="none" stroke="#000" stroke-width=".4" stroke-miterlimit="20"/><path d="M3 6h4l-4 .5z" fill="none" stroke="#000" stroke-width=".4"/>',
    ],
    [
      'a dashed rectangle',
      '<path d="M1 1H19V9H1Z" fill="none" stroke="#000" stroke-width=".5" stroke-dasharray="2 1" stroke-dashoffset=".5"/>',
    ],
    [
      'pens that a transform flattens',
      '<g transform="scale(2 1)"><circle cx="4" cy="5" r="2" fill="none" stroke="#000" stroke-width=".5"/></g><path transform="skewX(20)" d="M12 2l3 3" stroke="#000" stroke-linecap="round"/>',
    ],
    [
      'references',
      '<defs><g id="a"><rect width="1" height="1"/></g><symbol id="s" viewBox="0 0 2 2"><circle cx="1" cy="1" r="1.2"/></symbol></defs><use xlink:href="#a" x="2" y="2"/><use href="#a" transform="translate(5 2) rotate(45)"/><use href="#s" x="10" y="2" width="4" height="6"/>',
    ],
    [
      'style sheets',
      '<style>.a{fill:none;stroke:black;stroke-width:.5px} #q{display:none} g>rect.b{fill:#fff} rect{fill:#000}</style><rect class="a" x="1" y="1" width="3" height="3"/><rect id="q" x="6" y="1" width="3" height="3"/><g><rect x="11" y="1" width="5" height="5"/><rect class="b" x="12" y="2" width="2" height="2"/></g>',
    ],
    [
      'a viewBox with another shape',
      '<rect width="10" height="10"/>',
      'width="20mm" height="10mm" viewBox="-5 -5 40 40" preserveAspectRatio="xMaxYMid"',
    ],
    [
      'a stretched viewBox',
      '<circle cx="5" cy="5" r="4"/>',
      'width="20mm" height="10mm" viewBox="0 0 10 10" preserveAspectRatio="none"',
    ],
    [
      'a sliced viewBox',
      '<circle cx="5" cy="5" r="4"/>',
      'width="20mm" height="10mm" viewBox="0 0 10 10" preserveAspectRatio="xMidYMin slice"',
    ],
    [
      'nested viewports',
      '<svg x="2" y="2" width="6" height="6" viewBox="0 0 3 3"><circle cx="1" cy="1" r="1.5"/></svg><svg x="12" y="2" width="50%" height="6" overflow="visible"><circle cx="1" cy="1" r="1.5"/></svg>',
    ],
    [
      'clip paths',
      '<clipPath id="c"><circle cx="5" cy="5" r="3"/><rect x="1" y="4" width="2" height="2"/></clipPath><rect clip-path="url(#c)" x="2" y="2" width="3" height="7"/><g clip-path="url(#c)" transform="translate(8 0)"><rect width="20" height="10"/></g>',
    ],
    [
      'masks of plain shapes',
      '<mask id="m" maskUnits="userSpaceOnUse" x="0" y="0" width="20" height="10"><rect width="20" height="10" fill="white"/><circle cx="5" cy="5" r="2"/><rect x="4.5" y="4" width="1" height="2" fill="#fff"/></mask><rect mask="url(#m)" x="2" y="2" width="6" height="6"/><g mask="url(#m)" transform="translate(9 0)"><circle cx="5" cy="5" r="4"/></g>',
    ],
    [
      'masks of groups and of a part of the sheet',
      '<mask id="m" maskUnits="userSpaceOnUse" x="0" y="0" width="6" height="9"><g transform="translate(1 1)"><rect width="9" height="9" fill="white"/></g><g><circle cx="5" cy="5" r="2"/></g></mask><rect mask="url(#m)" width="18" height="9"/>',
    ],
    [
      'markers',
      '<marker id="k" markerWidth="2" markerHeight="2" orient="auto" overflow="visible"><path d="M0 0h2v1z"/></marker><path d="M3 3h5v5" fill="none" stroke="#000" stroke-width=".5" marker-start="url(#k)" marker-mid="url(#k)" marker-end="url(#k)"/>',
    ],
    [
      'a transform of the root and of style sheets',
      '<style>.a{transform:translate(3,2) rotate(20);fill:#000}</style><rect class="a" width="4" height="2"/>',
      'width="20mm" height="10mm" viewBox="0 0 20 10"',
    ],
    [
      'colours of all kinds',
      '<g style="color:#fff"><rect width="19" height="9" fill="#000"/><rect width="2" height="2" fill="currentColor"/><rect x="3" width="2" height="2" fill="hsl(0,0%,100%)"/><rect x="6" width="2" height="2" fill="RGB(255,255,255)"/><rect x="9" width="2" height="2" fill="white"/><rect x="12" width="2" height="2" fill="url(#none) #fff"/></g>',
    ],
    [
      'hidden shapes',
      '<rect visibility="hidden" width="3" height="3"/><g visibility="hidden"><rect visibility="visible" x="5" y="2" width="3" height="3"/></g><rect opacity="0" x="9" width="3" height="3"/><rect fill="none" x="13" width="3" height="3"/>',
    ],
    [
      'units inside',
      '<rect x="1mm" y="1mm" width="5mm" height="2mm"/><rect x="48" y="9.6" width="19.2" height="20%"/><circle cx="12pt" cy="24pt" r="1pc"/><rect x="1.5cm" y="5mm" width=".1in" height=".1cm"/>',
      'width="1in" height=".5in"',
    ],
    [
      'dots',
      '<path d="M5 5z" stroke="#000" stroke-width="2" stroke-linecap="round"/><path d="M10 5h0" stroke="#000" stroke-width="2" stroke-linecap="square"/>',
    ],
  ];
  it.each(table)('%s', async (_, body, attributes) => {
    const source = svg(body, attributes);
    const artwork = await read(source);
    // The renderer itself approximates curves; a wrong shape would show as tens of micrometres.
    expect(wallError(source, artwork)).toBeLessThan(1.6e-3);
  });
});

it.each([
  ['center', 10, 5],
  ['50% 50%', 10, 5],
  ['left top', 0, 0],
  ['bottom', 10, 10],
  ['top right', 20, 0],
  ['4px', 4, 5],
  ['1 25%', 1, 2.5],
])('a transform-origin of %s is the point that stays', async (origin, x, y) => {
  const pad = `<rect x="${x}" y="${y}" width="1" height="2" transform="scale(-2 .5)" transform-origin="${origin}"/>`;
  const inner = `<svg width="20" height="10" overflow="visible">${pad}</svg>`;
  for (const [body, viewBox] of [
    [inner, '-10 -10 40 40'],
    [`<svg viewBox="0 0 20 10" width="40" height="20" overflow="visible">${pad}</svg>`, '-20 -20 80 80'],
  ]) {
    const { bounds } = await read(svg(body, `width="40mm" height="40mm" viewBox="${viewBox}"`));
    expect(bounds?.minX).toBeCloseTo(x + 10 - 2, 6);
    expect(bounds?.maxX).toBeCloseTo(x + 10, 6);
    expect(bounds?.minY).toBeCloseTo(30 - y - 1, 6);
    expect(bounds?.maxY).toBeCloseTo(30 - y, 6);
  }
});

describe('what can not be cut', () => {
  it.each([
    [
      'MASK_IGNORED',
      '<mask id="m"><rect width="9" height="9" fill="#777"/></mask><rect mask="url(#m)" width="5" height="5"/>',
    ],
    [
      'MASK_IGNORED',
      '<mask id="m"><image href="a.png" width="9" height="9"/></mask><rect mask="url(#m)" width="5" height="5"/>',
    ],
    ['MASK_IGNORED', '<rect mask="url(#none)" width="5" height="5"/>'],
    [
      'MASK_IGNORED',
      '<mask id="m"><rect width="9" height="9" fill="#fff"/></mask><path mask="url(#m)" d="M0 2.5h5" stroke="#000" stroke-width="5"/>',
    ],
    ['STYLE_LEFT_OUT', '<style>mask{mask-type:alpha}</style><mask id="m"/><rect width="5" height="5"/>'],
    ['FILTER_IGNORED', '<filter id="f"/><rect filter="url(#f)" width="5" height="5"/>'],
    [
      'PATTERN_FLAT',
      '<pattern id="p" width="2" height="2"><rect width="1" height="1"/></pattern><rect width="5" height="5" fill="url(#p)"/>',
    ],
    ['IMAGE_LEFT_OUT', '<rect width="5" height="5"/><image href="a.png" width="5" height="5"/>'],
    ['ELEMENT_UNKNOWN', '<rect width="5" height="5"/><blob/>'],
    ['TEXT_LEFT_OUT', '<rect width="5" height="5"/><defs><text id="t">A</text></defs><use href="#t" x="9" y="5"/>'],
    ['REFERENCE_UNKNOWN', '<rect width="5" height="5"/><use href="#none"/>'],
    ['REFERENCE_UNKNOWN', '<rect width="5" height="5"/><use href="other.svg#a"/>'],
    ['CLIP_IGNORED', '<rect clip-path="url(#none)" width="5" height="5"/>'],
    ...[
      '<g><rect width="3" height="3"/></g>',
      '<text>x</text>',
      '<use href="#g"/>',
      '<use href="#s" clip-path="url(#d)"/>',
    ].map((part) => [
      'CLIP_IGNORED',
      `<defs><g id="g" transform="scale(2)"><rect width="3" height="3"/></g><rect id="s" width="3" height="3"/></defs><clipPath id="d"><rect width="2" height="2"/></clipPath><rect width="5" height="5"/><clipPath id="c">${part}</clipPath><rect clip-path="url(#c)" x="9" width="5" height="5"/>`,
    ]),
    [
      'CLIP_IGNORED',
      '<clipPath id="c" clipPathUnits="objectBoundingBox"><rect width=".5" height=".5"/></clipPath><rect clip-path="url(#c)" width="5" height="5"/>',
    ],
    ['STYLE_LEFT_OUT', '<style>@media screen{rect{fill:none}}</style><rect width="5" height="5"/>'],
    ['STYLE_LEFT_OUT', '<style>.a{width:9px}</style><rect class="a" width="5" height="5"/>'],
    ['PATH_DATA', '<path d="M0 0H5V5H0ZM6 1L7 q"/>'],
    ['PATH_DATA', '<polygon points="0,0 5,0 5,5 0,5 odd"/>'],
    ['NOT_A_NUMBER', '<rect width="5" height="5"/><rect x="9" width="abc" height="5"/>'],
    ['NOT_A_NUMBER', '<rect width="5" height="5"/><rect x="9" width="1e999" height="5"/>'],
    ['NOT_A_NUMBER', '<rect width="5" height="5"/><circle cx="9" cy="5" r="NaN"/>'],
    ['NOT_A_NUMBER', '<rect width="5" height="5"/><rect x="9" width="5vw" height="5"/>'],
    ['NOT_A_NUMBER', '<g stroke-width="5vw"><rect width="5" height="5"/></g>'],
    [
      'STYLE_LEFT_OUT',
      '<rect width="5" height="5" style="transform-box:fill-box;transform-origin:center;transform:scale(1)"/>',
    ],
    ...['translate:3px 3px', 'rotate:45deg', 'scale:2', 'zoom:2', 'all:unset'].flatMap((style) => [
      ['STYLE_LEFT_OUT', `<rect width="5" height="5" style="${style}"/>`],
      ['STYLE_LEFT_OUT', `<style>rect{${style}}</style><rect width="5" height="5"/>`],
    ]),
    ['STYLE_LEFT_OUT', '<style>.b{fill:none} .a{fill:none</style><rect class="a" width="5" height="5"/>'],
    ['STYLE_LEFT_OUT', '<style>g{.a{stroke:none}}</style><rect class="a" width="5" height="5"/>'],
    ['STYLE_LEFT_OUT', '<g stroke-dasharray="3"><rect width="5" height="5" pathLength="9"/></g>'],
    ['STYLE_LEFT_OUT', '<style>rect{transform-box:fill-box}</style><rect width="5" height="5"/>'],
    ['STYLE_LEFT_OUT', '<rect width="5" height="5" transform-origin="3vw 1" transform="scale(1)"/>'],
    ['STYLE_LEFT_OUT', '<rect width="5" height="5" transform-origin="odd" transform="scale(1)"/>'],
    [
      'STYLE_LEFT_OUT',
      '<symbol id="s" viewBox="0 0 5 5"><rect width="100%" height="5"/></symbol><use href="#s" width="5" height="5"/>',
    ],
    ['STYLE_LEFT_OUT', '<style>rect{stroke-width:2vmin}</style><rect width="5" height="5"/>'],
    ['NOT_A_NUMBER', '<rect width="5" height="5"/><rect x="9" style="width:3+q" height="5"/>'],
    ['NOT_A_NUMBER', '<rect width="5" height="5"/><svg viewBox="0 0 0 9"><rect x="9" width="0" height="5"/></svg>'],
    [
      'GRADIENT_FLAT',
      '<linearGradient id="g"><stop stop-color="#000"/><stop offset="1" stop-color="#ddd"/></linearGradient><rect fill="url(#g)" width="5" height="5"/>',
    ],
  ])('is told of as %s with its line: %s', async (code, body) => {
    const { openings, warnings } = await readSvg(
      new TextEncoder().encode(
        `<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="10mm" viewBox="0 0 20 10">\n${body}</svg>`,
      ),
      {},
    );
    expect(openings).toHaveLength(1);
    expect(openingArea(openings[0])).toBeCloseTo(25, 9);
    expect(warnings).toContainEqual(expect.objectContaining({ code, place: expect.objectContaining({ line: 2 }) }));
  });
});

/** Source of what a rule does: W3C, Selectors 4; CSS Cascading and Inheritance 4; SVG 2. */
describe('what comes out otherwise than drawn makes the exit code tell', () => {
  const PAD = '<rect id="k" class="k" x="1" y="1" width="3" height="3"/>';
  const told = async (body: string, before = ''): Promise<string[]> =>
    (
      await readSvg(
        new TextEncoder().encode(
          `${before}<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="10mm" viewBox="0 0 20 10">${body}<path d="M9 1h3v3h-3z"/></svg>`,
        ),
        {},
      )
    ).warnings
      .filter((warning) => isGrave(warning, {}))
      .map(({ code }) => code);

  it.each([
    ['STYLE_LEFT_OUT', `<style>rect:nth-child(2){fill:none}</style>${PAD}`],
    ['STYLE_LEFT_OUT', `<style>rect:not(.a){fill:none}</style>${PAD}`],
    ['STYLE_LEFT_OUT', `<style>g ~ .k{fill:none}</style><g/>${PAD}`],
    [
      'STYLE_LEFT_OUT',
      `<style>.k{display:none!important}</style><g style="display:inline">${PAD}</g>${PAD.replace('/>', ' style="display:inline"/>')}`,
    ],
    ['STYLE_LEFT_OUT', `<style>.k{fill:none!important}#k{fill:red}</style>${PAD}`],
    ['STYLE_LEFT_OUT', `<style>.k{fill:none!important}</style><style>#k{fill:red}</style>${PAD}`],
    ['STYLE_LEFT_OUT', `<style>:root{--k:none}.k{fill:var(--k)}</style>${PAD}`],
    ['STYLE_LEFT_OUT', PAD.replace('/>', ' fill="rgb(0 0 0 / 0%)"/>')],
    ['STYLE_LEFT_OUT', `<style>@import "s.css";</style>${PAD}`],
    ['STYLE_LEFT_OUT', `<style media="print">.k{fill:none}</style>${PAD}`],
    ['STYLE_LEFT_OUT', `<style>.k{filter:url(#f)}</style><filter id="f"/>${PAD}`],
    ['STYLE_LEFT_OUT', `<link xmlns="http://www.w3.org/1999/xhtml" rel="stylesheet" href="s.css"/>${PAD}`],
    ['FILTER_IGNORED', `<filter id="f"><feOffset dx="3"/></filter><g filter="url(#f)">${PAD}</g>`],
    [
      'FILTER_IGNORED',
      `<filter id="f"/><defs>${PAD.replace('/>', ' style="filter:url(#f)"/>')}</defs><use href="#k"/>`,
    ],
    [
      'STROKE_SCALED',
      '<g transform="scale(2)" stroke="#000"><path d="M1 2H3" vector-effect="non-scaling-stroke"/></g>',
    ],
    ['REFERENCE_UNKNOWN', '<use href="#nope"/>'],
    ['IMAGE_LEFT_OUT', '<image href="data:image/png;base64,iVBORw0KGgo=" width="3" height="3"/>'],
    [
      'GRADIENT_FLAT',
      `<linearGradient id="g"><stop stop-color="#000"/><stop offset="1" stop-color="#fff"/></linearGradient>${PAD.replace('/>', ' fill="url(#g)"/>')}`,
    ],
    ['FAINT_LEFT_OUT', PAD.replace('/>', ' fill="#e8e8e8"/>')],
    ['FAINT_LEFT_OUT', PAD.replace('/>', ' fill-opacity=".09"/>')],
    ['FAINT_LEFT_OUT', `${PAD}<path d="M2 2h1v1h-1z" fill="#e8e8e8"/>`],
  ])('%s: %s', async (code, body) => {
    expect(await told(body)).toEqual([code]);
  });

  it('a style sheet in another file', async () => {
    const named = (href: string): string => `<?xml version="1.0"?><?xml-stylesheet href="${href}" type="text/css"?>`;
    expect(await told(PAD, named('s.css'))).toEqual(['STYLE_LEFT_OUT']);
    expect(await told(PAD, named('#s'))).toEqual([]);
    expect(await told(PAD, `<!-- ${named('s.css').slice(21)} -->`)).toEqual([]);
  });

  it.each([
    ['FAINT_LEFT_OUT', `${PAD}<path d="M2 2h1v1h-1z" fill="#fff" opacity=".6"/>`],
    [
      'CLIP_IGNORED',
      `<clipPath id="c">${PAD}</clipPath><symbol id="s">${PAD}</symbol><use x="1" href="#s" clip-path="url(#c)"/>`,
    ],
    ['STYLE_LEFT_OUT', `<style>*{transform:translate(1px)}</style>${PAD}`],
  ])('%s: %s', async (code, body) => {
    expect(new Set(await told(body))).toEqual(new Set([code]));
  });

  it.each([
    [
      'a symbol of its own size',
      '<symbol id="s" viewBox="0 0 4 4" width="2" height="2"><path d="M0 0h2v2h-2z"/></symbol><use href="#s" x="1" y="1"/>',
      1,
    ],
    [
      'a symbol of a size that its use says',
      '<symbol id="s" viewBox="0 0 4 4" width="2" height="2"><path d="M0 0h2v2h-2z"/></symbol><use href="#s" x="1" y="1" width="6" height="6"/>',
      9,
    ],
    [
      'keywords in capitals',
      `<style>*{STROKE:NONE}</style><g fill="NONE">${PAD}</g><g style="Display:None">${PAD}</g><g style="color:#fff;fill:CURRENTCOLOR">${PAD}</g>`,
      0,
    ],
    ['a language that nobody asked for', PAD.replace('/>', ' systemLanguage="xx"/>'), 0],
    [
      'the first that a switch may show',
      `<switch><g systemLanguage="xx">${PAD}</g><a><path d="M1 1h1v1h-1z"/></a>${PAD}</switch>`,
      1,
    ],
  ])('%s is drawn as viewers do (SVG 2; CSS Values 4: keywords have no case)', async (_, body, area) => {
    const artwork = await read(svg(`${body}<path d="M9 1h3v3h-3z"/>`));
    expect(totalArea(artwork)).toBeCloseTo(9 + area, 6);
    expect(codes(artwork)).toEqual([]);
  });

  it.each([
    ['titles and what editors keep', `<title>x</title><metadata><a:b xmlns:a="x">1</a:b></metadata>${PAD}`],
    ['an important rule that nothing contradicts', `<style>.k{display:none!important}</style>${PAD}`],
    ['rules that match nothing', `<style>.none:nth-child(2),text:not(.k){fill:none} .none{width:3px}</style>${PAD}`],
    ['the length of a path that is not dashed', PAD.replace('/>', ' pathLength="9"/>')],
    ['states of a mouse', `<style>.k:hover{fill:none} .k::before{fill:none}</style>${PAD}`],
    ['fonts', `<style>@font-face{font-family:x;src:url(x.ttf)} .k:not(.a){font-size:3px;cursor:pointer}</style>${PAD}`],
    ['hidden effects', `<filter id="f"/><g display="none" filter="url(#f)">${PAD}</g>`],
    [
      'from black to nearly black',
      `<linearGradient id="g"><stop stop-color="#000"/><stop offset="1" stop-color="#400"/></linearGradient>${PAD.replace('/>', ' fill="url(#g)"/>')}`,
    ],
    ['a light sheet beneath', `<rect width="20" height="10" fill="#f4f4f4"/>${PAD}`],
    ['a light board beneath', `<rect x=".5" y=".5" width="19" height="9" fill="#eee"/>${PAD}`],
    ['a light shape under a pad', `<path d="M2 2h1v1h-1z" fill="#e8e8e8"/>${PAD}`],
  ])('not so %s', async (_, body) => {
    expect(await told(body)).toEqual([]);
  });
});

describe('sizes', () => {
  const square = '<rect x="10" y="10" width="40" height="40"/>';
  it.each([
    ['mm', 'width="60mm" height="60mm" viewBox="0 0 60 60"', 40],
    ['cm', 'width="6cm" height="6cm" viewBox="0 0 60 60"', 40],
    ['in', 'width="2in" height="2in" viewBox="0 0 50.8 50.8"', 40],
    ['pt', 'width="72pt" height="72pt" viewBox="0 0 72 72"', (40 * 25.4) / 72],
    ['pc', 'width="6pc" height="6pc" viewBox="0 0 72 72"', (40 * 25.4) / 72],
    ['Q', 'width="240Q" height="240Q" viewBox="0 0 60 60"', 40],
    ['only a width and a viewBox', 'width="60mm" viewBox="0 0 60 60"', 40],
  ])('%s', async (_, attributes, side) => {
    const { bounds } = await read(svg(square, attributes));
    expect((bounds?.maxX ?? 0) - (bounds?.minX ?? 0)).toBeCloseTo(side, 10);
  });

  it.each([
    ['pixels', 'width="100" height="100"'],
    ['px', 'width="100px" height="100px" viewBox="0 0 100 100"'],
    ['a viewBox alone', 'viewBox="0 0 100 100"'],
    ['percent', 'width="100%" height="100%" viewBox="0 0 100 100"'],
  ])('%s are no size: it is asked for, not guessed', async (_, attributes) => {
    expect(await codeOf(svg(square, attributes))).toBe('SIZE_UNKNOWN');
    const byDpi = await read(svg(square, attributes), { dpi: 254 });
    expect((byDpi.bounds?.maxX ?? 0) - (byDpi.bounds?.minX ?? 0)).toBeCloseTo(4, 10);
    const byWidth = await read(svg(square, attributes), { widthMm: 50 });
    expect(byWidth.canvas).toEqual({ widthMm: 50, heightMm: 50 });
    expect(totalArea(byWidth)).toBeCloseTo(400, 8);
  });

  it('a known distance sets the scale', async () => {
    const two = '<circle cx="20" cy="20" r="5"/><circle cx="60" cy="50" r="5"/>';
    const artwork = await read(svg(two, 'width="100" height="100"'), {
      knownDistance: { from: 1, to: 2, distanceMm: 5 },
    });
    expect(totalArea(artwork)).toBeCloseTo(2 * Math.PI * 0.25, 3);
    expect(
      await codeOf(svg(two, 'width="100" height="100"'), { knownDistance: { from: 1, to: 3, distanceMm: 5 } }),
    ).toBe('KNOWN_DISTANCE');
  });
});

describe('what is said', () => {
  it('text and pictures are left out with a word', async () => {
    const artwork = await read(
      svg('<rect x="2" y="2" width="2" height="2"/><text x="5" y="5">TOP</text><image width="2" height="2"/>'),
    );
    expect(codes(artwork)).toEqual(['TEXT_LEFT_OUT', 'IMAGE_LEFT_OUT']);
  });

  it('a shape over the edge is cut there, one outside is left out', async () => {
    const artwork = await read(
      svg(
        '<rect x="18" y="2" width="4" height="2"/><rect x="30" y="2" width="4" height="2"/><rect x="2" y="2" width="1" height="1"/>',
      ),
    );
    expect(totalArea(artwork)).toBeCloseTo(5, 6);
    expect(codes(artwork)).toEqual(expect.arrayContaining(['CUT_BY_CANVAS', 'OUTSIDE_CANVAS']));
  });

  it('a dark sheet with light shapes is a negative', async () => {
    const body =
      '<rect width="20" height="10"/><rect x="2" y="2" width="3" height="3" fill="#fff"/><circle cx="9" cy="5" r="1" fill="yellow"/>';
    const artwork = await read(svg(body));
    expect(codes(artwork)).toEqual(['POLARITY_INFERRED']);
    expect(totalArea(artwork)).toBeCloseTo(9 + Math.PI, 2);
    expect(totalArea(await read(svg(body), { polarity: 'light' }))).toBeCloseTo(9 + Math.PI, 2);
    expect(totalArea(await read(svg(body), { polarity: 'dark' }))).toBeCloseTo(200 - 9, 5);
  });

  it('a frame along the edges of the canvas is no film', async () => {
    const artwork = await read(
      '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 40 30"><path fill-rule="evenodd" d="M0 0H40V30H0Z M0.4 0.4H39.6V29.6H0.4Z"/><rect x="5" y="5" width="2" height="1"/><rect x="9" y="5" width="2" height="1"/></svg>',
    );
    expect(codes(artwork)).not.toContain('POLARITY_INFERRED');
    expect(artwork.openings).toHaveLength(3);
    expect(artwork.openings.reduce((sum, o) => sum + openingArea(o), 0)).toBeCloseTo(1200 - 39.2 * 29.2 + 4, 6);
  });

  it('so is a dark path with holes that reaches all edges', async () => {
    const artwork = await read(svg('<path d="M0 0H20V10H0ZM3 3V7H7V3ZM10 4V6H12V4Z"/>'));
    expect(artwork.openings).toHaveLength(2);
    expect(totalArea(artwork)).toBeCloseTo(20, 9);
  });

  it('hairline outlines are filled, wide ones stay lines', async () => {
    const outlines = '<rect x="1" y="1" width="3" height="2"/><path d="M12 2L15 2M15 2L15 5M15 5L12 5M12 5L12 2"/>';
    const thin = await read(svg(`<g fill="none" stroke="red" stroke-width=".02">${outlines}</g>`));
    expect(codes(thin)).toEqual(['OUTLINES_FILLED']);
    expect(totalArea(thin)).toBeCloseTo(15, 6);
    const wide = await read(svg(`<g fill="none" stroke="red" stroke-width=".3">${outlines}</g>`));
    expect(totalArea(wide)).toBeLessThan(8);
  });

  it('data attributes and ids come along', async () => {
    const { openings } = await read(svg('<path id="opening-7" data-component="U3" d="M1 1h1v1h-1z"/>'));
    expect(openings[0].tag?.attributes).toEqual({ id: 'opening-7', 'data-component': 'U3' });
  });

  it.each([
    ['nothing drawn', svg(''), 'NOTHING_DRAWN'],
    ['white on white', svg('<rect width="3" height="3" fill="#fff"/>'), 'NOTHING_DRAWN'],
    ['a file that was cut off', svg('<rect width="3" height="3"/>').slice(0, -8), 'SVG_BROKEN'],
    ['tags that do not match', '<svg width="1mm" height="1mm"><g></svg>', 'SVG_BROKEN'],
    [
      'a transform that can not be read',
      svg('<g transform="rotate(1,2)"><rect width="3" height="3"/></g>'),
      'SVG_TRANSFORM',
    ],
    [
      'a viewBox of no numbers',
      svg('<rect width="3" height="3"/>', 'width="20mm" height="10mm" viewBox="0 0 a b"'),
      'SVG_BROKEN',
    ],
    [
      'a viewBox of no size',
      svg('<rect width="3" height="3"/>', 'width="20mm" height="10mm" viewBox="0 0 0 9"'),
      'SVG_BROKEN',
    ],
    [
      'a viewBox of three numbers',
      svg('<rect width="3" height="3"/>', 'width="20mm" height="10mm" viewBox="0 0 20"'),
      'SVG_BROKEN',
    ],
    [
      'a viewBox without end',
      svg('<rect width="3" height="3"/>', 'width="20mm" height="10mm" viewBox="0 0 1e999 9"'),
      'SVG_BROKEN',
    ],
    ['a width of no number', svg('<rect width="3" height="3"/>', 'width="abc" height="10mm"'), 'SVG_BROKEN'],
    ['no canvas', '<svg xmlns="http://www.w3.org/2000/svg"><rect width="3" height="3"/></svg>', 'SIZE_UNKNOWN'],
  ])('%s is refused', async (_, text, code) => {
    expect(await codeOf(text)).toBe(code);
  });

  it('references that multiply without end are refused quickly', async () => {
    const levels = Array.from({ length: 24 }, (_, i) => `<g id="g${i + 1}">${`<use href="#g${i}"/>`.repeat(10)}</g>`);
    const bomb = svg(`<defs><rect id="g0" width=".1" height=".1"/>${levels.join('')}</defs><use href="#g24"/>`);
    expect(await codeOf(bomb)).toBe('TOO_COMPLEX');
  });

  it.each([
    ['clip paths', 'clipPath', 'clip-path="url(#g'],
    ['masks', 'mask', 'mask="url(#g'],
  ])('so are %s that do', async (_, name, reference) => {
    const levels = Array.from(
      { length: 24 },
      (__, i) =>
        `<${name} id="g${i + 1}">${`<rect width="9" height="9" fill="#fff" ${reference}${i})"/>`.repeat(10)}</${name}>`,
    );
    const bomb = svg(
      `<${name} id="g0"><rect width="9" height="9"/></${name}>${levels.join('')}<rect width="9" height="9" ${reference}24)"/>`,
    );
    expect(await codeOf(bomb)).toBe('TOO_COMPLEX');
  });

  it('markers on very many corners are refused', async () => {
    const marker = `<marker id="k">${'<rect width="1" height="1"/>'.repeat(1000)}</marker>`;
    expect(await codeOf(svg(`${marker}<g marker-mid="url(#k)"><path d="M0 0${'h1v1'.repeat(10_000)}"/></g>`))).toBe(
      'TOO_COMPLEX',
    );
  });

  it('entities that grow without end and elements nested without end are refused', async () => {
    const entities = Array.from({ length: 20 }, (_, i) => `<!ENTITY e${i + 1} "${`&e${i};`.repeat(20)}">`).join('');
    expect(
      await codeOf(`<!DOCTYPE svg [<!ENTITY e0 "x">${entities}]>${svg('<rect id="&e20;" width="1" height="1"/>')}`),
    ).toBe('SVG_BROKEN');
    expect(await codeOf(svg(`${'<g>'.repeat(1500)}<rect width="1" height="1"/>${'</g>'.repeat(1500)}`))).toBe(
      'TOO_COMPLEX',
    );
    expect(await codeOf(svg(`${'<g>'.repeat(9000)}${'</g>'.repeat(9000)}`))).toBe('SVG_BROKEN');
  });

  it('a transform-origin in shares within a drawing in shares is one of its own size', async () => {
    const pad = '<rect x="5" y="2" width="2" height="1" transform="rotate(90)" transform-origin="50% 50%"/>';
    const { bounds } = await read(svg(`<svg width="50%" height="50%">${pad}</svg>`));
    // Turned about (5, 2.5), y down; the sheet is 10 high.
    expect(bounds?.minX).toBeCloseTo(4.5, 9);
    expect(bounds?.minY).toBeCloseTo(5.5, 9);
    expect(bounds?.maxY).toBeCloseTo(7.5, 9);
  });

  it('the word currentColor means the colour of where it is painted', async () => {
    const lands = '<rect width="9" height="9"/><g color="black" fill="currentColor" stroke="none">';
    const { openings } = await read(svg(`${lands}<rect x="1" y="1" width="2" height="2" color="white"/></g>`));
    expect(openings.map(({ islands }) => islands.length)).toEqual([1]);
  });

  it('nothing but the file itself is read', async () => {
    const outside =
      '<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/hostname">]><svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="10mm" viewBox="0 0 20 10"><desc>&x;</desc><style>@import url("file:///etc/hostname");</style><rect width="5" height="5"/><image href="file:///etc/hostname" width="9" height="9"/></svg>';
    const artwork = await read(outside);
    expect(artwork.openings).toHaveLength(1);
    expect(codes(artwork).sort()).toEqual(['IMAGE_LEFT_OUT', 'STYLE_LEFT_OUT']);
  });

  it('copies carry no name, and a name that stands twice is nobody’s', async () => {
    const { openings } = await read(
      svg(
        '<rect id="a" data-component="U1" width="1" height="1"/><rect id="a" data-component="U2" x="3" width="1" height="1"/>',
      ),
    );
    expect(openings.map(({ tag }) => tag?.attributes)).toEqual([undefined, undefined]);
  });

  it('circles of references end', async () => {
    const artwork = await read(
      svg('<g id="a"><use href="#b"/><rect x="1" y="1" width="1" height="1"/></g><g id="b"><use href="#a"/></g>'),
    );
    expect(artwork.openings.length).toBeGreaterThan(0);
    expect(codes(artwork)).toContain('REFERENCE_CIRCLE');
  });
});
