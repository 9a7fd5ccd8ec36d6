import { createHash } from 'node:crypto';
import { strToU8, zipSync } from 'fflate';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { largest, smallest } from '../../src/geometry/bounds.js';
import { bench, layer, profileOf } from './bench.js';

const desk = bench({ 'laser.json': profileOf(), 'board.gbr': layer() });

const correct = (line: string, ...words: string[]) =>
  desk.run(`correct --profile laser.json --out out ${line}`, ...words);

describe('apertrue correct', () => {
  it('writes a PNG of the stated size with its true resolution, and a sidecar', async () => {
    const { code, out, said } = await correct('board.gbr');
    expect(code).toBe(0);
    expect(desk.list('out')).toEqual(['board.job.json', 'board.png']);
    expect(said).toMatch(/^wrote .*board\.png\nwrote .*board\.job\.json\ncaution: /);
    const { width, height, density, depth } = await sharp(desk.read('out/board.png')).metadata();
    const job = desk.json('out/board.job.json');
    expect([width, height]).toEqual([job.canvas.widthPx, job.canvas.heightPx]);
    expect(job.canvas.widthMm).toBeCloseTo(job.canvas.widthPx * 0.0254, 6);
    expect(density).toBe(1000);
    expect(depth).toBe('uchar');
    expect(job.source).toEqual({
      file: 'board.gbr',
      sha256: createHash('sha256').update(desk.read('board.gbr')).digest('hex'),
    });
    expect(job.counts).toMatchObject({ openings: 6, narrowParts: 0 });
    for (const word of ['1000 dpi', `${width} x ${height} px`, 'power 40 %', '2 passes', 'film pet'])
      expect(out).toContain(word);
  });

  it('gives the same bytes for the same inputs', async () => {
    await correct('board.gbr --format all');
    const first = desk.list('out').map((name) => desk.read(`out/${name}`).toString('base64'));
    await correct('board.gbr --format all --overwrite');
    expect(desk.list('out')).toEqual([
      'board.bmp',
      'board.dxf',
      'board.grey.png',
      'board.job.json',
      'board.pdf',
      'board.png',
      'board.svg',
      'board.tif',
    ]);
    expect(desk.list('out').map((name) => desk.read(`out/${name}`).toString('base64'))).toEqual(first);
  });

  it.each(['svg', 'pdf', 'png', 'tiff', 'bmp', 'grey-png'])(
    'says so when its own result (%s) is given to it again',
    async (format) => {
      await correct(`board.gbr --format ${format}`);
      const [name] = desk.list('out').filter((one) => !one.endsWith('.json'));
      const again = (file: string) => desk.run(`correct ${file} --profile laser.json --out twice`);
      const { code, said } = await again(`out/${name}`);
      expect(code).toBe(3);
      expect(said).toMatch(/corrected already, for the profile .*board\.job\.json/);
      // Taken away from its record and renamed, it still has its title; a BMP has none.
      desk.put('elsewhere', desk.read(`out/${name}`));
      const alone = await again('elsewhere');
      if (format === 'bmp') expect(alone.said).not.toContain('corrected already');
      else
        expect([alone.code, alone.said]).toEqual([3, expect.stringContaining('corrected already (its title says so)')]);
    },
  );

  it.each([
    ['may be cut off', (text: string) => text.replace('M02*\n', ''), 'END_MISSING'],
    ['holds a command that nobody knows', (text: string) => text.replace('M02*', '%ZZ1*%\nM02*'), 'UNKNOWN_COMMAND'],
  ])('the exit code tells of a layer that %s', async (_, change, found) => {
    const { code, out } = await correct(desk.put('odd.gbr', change(layer())), '--json');
    expect(code).toBe(3);
    expect(out).toContain(found);
  });

  it('says so when a coupon is to be corrected', async () => {
    const bed = ['--width-mm', '12', '--height-mm', '12', '--dpi', '500', '--out', 'bench'];
    await desk.run('coupon witness', ...bed);
    const { code, said } = await correct('bench/witness.png');
    expect(code).toBe(3);
    expect(said).toContain('coupons are cut as they are');
    desk.put('film.png', desk.read('bench/witness.png'));
    expect((await correct('film.png')).said).toContain('this is a coupon (its title says so)');
  });

  it('never replaces a file unless told, and never its own input', async () => {
    await correct('board.gbr');
    const again = await correct('board.gbr');
    expect(again.code).toBe(2);
    expect(again.said).toContain('--overwrite');
    expect((await correct('board.gbr --overwrite')).code).toBe(0);
    desk.put(
      'board.svg',
      '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9"><path d="M1 1H3V3H1Z"/></svg>',
    );
    const self = await desk.run(`correct board.svg --profile laser.json --out . --format svg --overwrite`);
    expect(self.code).toBe(2);
    expect(self.said).toContain('would replace a file that it is made from');
  });

  it('mirrors bottom layers, and not when told', async () => {
    desk.put('bottom.gbr', layer('Bot'));
    const first = await correct('bottom.gbr');
    expect(first.out).toContain('bottom side, mirrored');
    expect(desk.json('out/bottom.job.json').mirrored).toBe(true);
    await correct('bottom.gbr --mirror no --overwrite');
    expect(desk.json('out/bottom.job.json').mirrored).toBe(false);
  });

  it('keeps parts narrower than the kerf, lists them, and tells by its exit code; --strict writes nothing', async () => {
    desk.put('thin.gbr', layer('Top', '%ADD13R,0.08X1*%D13*X20000000Y0D03*'));
    const { code, out } = await correct('thin.gbr');
    expect(code).toBe(3);
    expect(out).toMatch(/opening 7: asked 0\.080 x 1\.000 mm, comes out 0\.14\d x 1\.000 mm/);
    const strict = await correct('thin.gbr --strict --overwrite');
    expect(strict.code).toBe(2);
    expect(strict.said).toContain('opening');
  });

  it('does the other files of a batch when one fails, and says how it went', async () => {
    desk.put('broken.gbr', '%FSLAX46Y46*%%MOMM*%D77*X0Y0D03*M02*');
    desk.put('second.gbr', layer());
    const { code, out, said } = await correct('*.gbr nothing-*.gbr');
    expect(code).toBe(4);
    expect(desk.list('out')).toEqual(['board.job.json', 'board.png', 'second.job.json', 'second.png']);
    expect(out).toContain('2 of 4 files corrected');
    expect(said).toMatch(/broken\.gbr, line 1: aperture D77/);
  });

  it('takes a file once, however its name is written, and never hides a result', async () => {
    const { code } = await correct(
      'board.gbr',
      '../'.concat(desk.folder.split('/').at(-1) ?? '', '/./board.gbr'),
      desk.put('.pads.gbr', layer()),
    );
    expect([code, desk.list('out')]).toEqual([0, ['board.job.json', 'board.png', 'pads.job.json', 'pads.png']]);
  });

  it('takes several layers of one side out of a zip, tells of it, and gives results names for any system', async () => {
    const zip = { 'x/a.gtp': layer(), 'y/a.gtp': layer('Top', 'X20000000Y0D03*'), 'z/a.gtp': layer() };
    desk.put('fab.zip', zipSync(Object.fromEntries(Object.entries(zip).map(([name, text]) => [name, strToU8(text)]))));
    const { code, said } = await correct('fab.zip --format svg');
    expect(said).toMatch(/2 files are top paste layers/);
    expect(said).toMatch(/"z\/a\.gtp" is the same as "x\/a\.gtp"/);
    expect([code, desk.list('out')]).toEqual([
      3,
      ['x-fab-a-gtp.job.json', 'x-fab-a-gtp.svg', 'y-fab-a-gtp.job.json', 'y-fab-a-gtp.svg'],
    ]);
  });

  it('takes both paste layers out of a zip, and lists what it found', async () => {
    desk.put(
      'fab.zip',
      zipSync({ 'top.gbr': strToU8(layer('Top')), 'bottom.gbr': strToU8(layer('Bot')), 'notes.txt': strToU8('x') }),
    );
    const { code, out, said } = await correct('fab.zip');
    expect(code).toBe(0);
    expect(desk.list('out').filter((name) => name.endsWith('.png'))).toEqual(['fab-bottom.png', 'fab-top.png']);
    expect(said).toContain('notes.txt: other');
    expect(out).toContain('bottom side, mirrored');
  });

  it('keeps apart results that would share a name', async () => {
    desk.put('board.ger', layer());
    await correct('board.gbr board.ger');
    expect(desk.list('out').filter((name) => name.endsWith('.png'))).toEqual(['board-gbr.png', 'board-ger.png']);
  });

  it('tells by its exit code of a kerf that was never fitted, and of dots that are too coarse', async () => {
    desk.put(
      'laser.json',
      profileOf().replace(
        '"kerfXMm":{"value":0.12,"stdUncertainty":0.0001}',
        '"kerfXMm":{"value":0,"stdUncertainty":0,"assumed":true}',
      ),
    );
    const kerf = await correct('board.gbr');
    expect([kerf.code, kerf.said]).toEqual([3, expect.stringContaining('kerf was never fitted')]);
    desk.put('laser.json', profileOf());
    const coarse = await correct('board.gbr --pitch-mm 0.3 --overwrite');
    expect([coarse.code, coarse.said]).toEqual([3, expect.stringContaining('too coarse')]);
  });

  it('tells by its exit code of grey openings: coupons are black', async () => {
    const grey = await correct(desk.put('board.gbr', layer()), '--format', 'grey-png', '--grey', '90');
    expect([grey.code, grey.said]).toEqual([3, expect.stringContaining('the openings have grey level 90')]);
    const record = desk.json('out/board.job.json');
    expect(record.warnings.map((warning: { code: string }) => warning.code)).toContain('GREY_NOT_CALIBRATED');
    expect((await correct('board.gbr --format grey-png --overwrite')).code).toBe(0);
  });

  it('takes the side from the name, else warns until it is told; --side beats both', async () => {
    const silent = layer().replace('%TF.FileFunction,Paste,Top*%', '');
    desk.put('board.gbr', silent);
    desk.put('board.gbp', silent);
    const { out, said } = await correct('board.gbr');
    expect(out).toContain('side unknown, not mirrored');
    expect(said + out).toContain('--side bottom');
    const told = await correct('board.gbr --side bottom --overwrite');
    expect(told.code).toBe(0);
    expect(told.out).toContain('bottom side, mirrored');
    expect(told.said + told.out).not.toContain('warning');
    expect((await correct('board.gbp --overwrite')).out).toContain('bottom side, mirrored');
    const against = await correct('board.gbp --side top --overwrite');
    expect(against.code).toBe(0);
    expect(against.out).toContain('top side, not mirrored');
  });

  it('mirrors a treated bottom layer too: the drawing says which side it is', async () => {
    desk.put('under.gbr', layer('Bot'));
    await desk.run('treat under.gbr --thickness-mm 0.1 --out treated');
    const { code, out } = await correct('treated/under.treated.svg');
    expect(code).toBe(0);
    expect(out).toContain('bottom side, mirrored');
  });

  it('treats openings by a rule set first, when told, and says so', async () => {
    desk.put('large.gbr', layer('Top', '%ADD13R,4X4*%D13*X20000000Y0D03*'));
    const { code, out } = await correct('large.gbr --rules plain');
    expect(code).toBeLessThanOrEqual(3);
    const job = desk.json('out/large.job.json');
    expect(job.rules).toMatchObject({ before: 7 });
    expect(job.counts.openings).toBeGreaterThan(7);
    expect(out).toMatch(/rules +plain: \d+ changes, 7 openings before/);
    const unknown = await correct('large.gbr --rules plian --overwrite');
    expect(unknown.said).toContain('Did you mean "plain"');
  });

  it('says by how much a fixed canvas is too small, and places on one that is large enough', async () => {
    const small = await correct('board.gbr --canvas-mm 10x10');
    expect(small.code).toBe(2);
    expect(small.said).toMatch(/beyond the canvas of 10 x 10 mm by 2\.\d+ mm across X/);
    expect((await correct('board.gbr --canvas-mm 40x30 --at-mm 3,4')).code).toBe(0);
    const job = desk.json('out/board.job.json');
    // As the coupons: no image is larger than the bed that the canvas stands for.
    expect(job.canvas.widthPx).toBe(Math.floor(40 / 0.0254));
    expect(job.canvas.widthMm).toBeCloseTo(job.canvas.widthPx * 0.0254, 9);
  });

  it.each([
    ['x', { widthMm: 40, heightMm: 30, dotX: 0.05, dotY: 0.0254 }],
    // Turned by 90 degrees: the canvas lies on its side, what was its lower edge is the right one.
    ['y', { widthMm: 30, heightMm: 40, dotX: 0.0254, dotY: 0.05 }],
  ])(
    'puts the openings where --at-mm says, on the canvas that was asked for, with --sweep %s',
    async (sweep, image) => {
      const at = ['--canvas-mm', '40x30', '--at-mm', '3,7', '--pitch-mm', '0.05x0.0254', '--sweep', sweep];
      expect((await correct('board.gbr', ...at)).code % 3).toBe(0);
      const { data, info } = await sharp(desk.read('out/board.png')).greyscale().raw().toBuffer({ resolveWithObject: true }); // biome-ignore format: one line
      expect(info.width).toBe(Math.floor(image.widthMm / image.dotX + 1e-6));
      expect(info.height).toBe(Math.floor(image.heightMm / image.dotY + 1e-6));
      const burnt = [...data.keys()].filter((i) => data[i] < 128);
      const columns = burnt.map((i) => i % info.width);
      const rows = burnt.map((i) => Math.floor(i / info.width));
      const [left, right] = [smallest(columns) * image.dotX, (info.width - 1 - largest(columns)) * image.dotX];
      const below = (info.height - 1 - largest(rows)) * image.dotY;
      const [x, y] = sweep === 'x' ? [left, below] : [below, right];
      // Dots lie within the openings that they make: up to a dot and a half farther in.
      expect([Math.abs(x - 3 - 0.025) < 0.06, Math.abs(y - 7 - 0.013) < 0.06, x, y]).toEqual([true, true, x, y]);
    },
  );

  it.each(['svg', 'pdf', 'dxf'])(
    'tells of paths the canvas that they have, with --sweep y too (%s)',
    async (format) => {
      // Distances between dots so large that canvases in whole dots tell width from height.
      const options = ['--pitch-mm', '0.05x0.0254', '--format', format];
      const canvases: Record<string, number>[] = [];
      for (const sweep of ['x', 'y']) {
        const { out } = await correct('board.gbr', ...options, '--sweep', sweep, '--overwrite');
        const { canvas } = desk.json('out/board.job.json');
        expect(out).toContain(`a width in mm: ${canvas.widthMm.toFixed(3)}`);
        if (format === 'svg')
          expect(desk.text('out/board.svg')).toContain(
            `width="${Number(canvas.widthMm.toFixed(5))}mm" height="${Number(canvas.heightMm.toFixed(5))}mm"`,
          );
        canvases.push(canvas);
      }
      const [along, turned] = canvases;
      for (const [one, other] of [
        ['widthMm', 'heightMm'],
        ['pitchXMm', 'pitchYMm'],
        ['filmWidthMm', 'filmHeightMm'],
      ]) {
        expect([turned[one], turned[other]]).toEqual([along[other], along[one]]);
      }
      expect(turned.filmWidthMm / turned.widthMm).toBeCloseTo(0.997, 6);
    },
  );

  it.each([
    ['no profile', 'correct board.gbr --out out', /--profile/],
    ['a profile that is none', 'correct board.gbr --profile board.gbr --out out', /not valid JSON/],
    ['a file that is not there', 'correct none.gbr --profile laser.json --out out', /there is no such file/],
    ['an unknown format', 'correct board.gbr --profile laser.json --out out --format gif', /comma list/],
    ['a mistyped option', 'correct board.gbr --profile laser.json --out out --rotat 90', /Did you mean --rotate/],
  ] as [string, string, RegExp][])('refuses %s with a remedy and no stack', async (_name, args, words) => {
    const { code, said } = await desk.run(args);
    expect(code).toBe(2);
    expect(said).toMatch(words);
    expect(said).not.toMatch(/\n\s+at /);
  });

  it('says where a mistyped key of a profile stands', async () => {
    desk.put('laser.json', profileOf().replace('"kerfXMm"', '"kerfXmm"'));
    const { code, said } = await correct('board.gbr');
    expect(code).toBe(2);
    expect(said).toContain('kerfXMm');
  });
});

describe('apertrue predict', () => {
  it('shows the stencil as drawn and corrected, and writes picture and table', async () => {
    const { code, out } = await desk.run('predict board.gbr --profile laser.json --out look');
    expect(code).toBe(0);
    expect(desk.list('look')).toEqual(['board.predict.csv', 'board.predict.png', 'board.predict.svg']);
    expect(out).toMatch(/width error, root mean square, µm\s+1\d\d\.\d\s+0\.\d\s+\d/);
    const rows = desk.text('look/board.predict.csv').trim().split('\n');
    expect(rows).toHaveLength(7);
    const [, , , , drawnWidth] = rows[1].split(',').map(Number);
    expect(drawnWidth).toBeCloseTo(0.5 * 1.004 + 0.12, 2);
    expect(desk.text('look/board.predict.svg')).not.toContain('<text');
  });

  it('tells by its exit code that a web burns away', async () => {
    desk.put('close.gbr', layer('Top', '%ADD13R,0.05X1*%D13*X20000000Y0D03*X20090000Y0D03*'));
    const { code, out } = await desk.run('predict close.gbr --profile laser.json --out look');
    expect(code).toBe(3);
    expect(out).toMatch(/webs burnt away\s+1\s+1/);
  });
});

describe('apertrue correct --report', () => {
  it('writes a page and a PDF: what to do next, the stencil before and after with its numbers, sizes, record', async () => {
    const { code, said } = await correct('board.gbr --report');
    expect(code).toBe(0);
    expect(desk.list('out')).toEqual(['board.job.json', 'board.png', 'board.report.html', 'board.report.pdf']);
    expect(said).toMatch(/wrote .*board\.report\.html\nwrote .*board\.report\.pdf\n/);
    const page = desk.text('out/board.report.html');
    const { canvas, outputs, source } = desk.json('out/board.job.json');
    expect(page).toContain('<p class="good">All 6 openings come out as asked, as near as whole dots allow.</p>');
    expect(page).toMatch(/What to do next.*\n<ol><li>Open board\.png in your laser/);
    expect(page).toContain(`a width in pixels: ${canvas.widthPx}`);
    expect([...page.matchAll(/<text [^>]*>(\d+)<\/text>/g)].map(([, number]) => number)).toEqual([
      '1',
      '2',
      '3',
      '4',
      '5',
      '6',
    ]);
    expect(page.match(/class="opening( outline)?"/g)).toEqual(['class="opening"', 'class="opening outline"']);
    // The leads of 0.3 x 1.2 mm, less the kerf.
    expect(page).toContain('0.300\u00a0x\u00a01.200</td><td>0.180\u00a0x\u00a01.100');
    expect(page.replaceAll('<wbr>', '')).toContain(source.sha256);
    expect(page).not.toContain(desk.folder);
    expect(outputs.map(({ name }: { name: string }) => name)).toEqual([
      'board.png',
      'board.report.html',
      'board.report.pdf',
    ]);
  });

  it('lists what will not come out, shows it dashed, and draws what there was before rules', async () => {
    desk.put('thin.gbr', layer('Top', 'D10*X0Y5000000D03*').replace('ADD10R,0.5X0.6', 'ADD10R,0.05X0.6'));
    const { code } = await correct('thin.gbr --report --rules plain');
    const page = desk.text('out/thin.report.html');
    expect(code).toBe(3);
    expect(page).toMatch(/<p class="warning">3 of 7 openings will not come out as asked/);
    expect(page).toMatch(/class="opening doubtful"/);
    expect(page).toContain('before the rules');
    expect(page).toContain('kept as the thinnest line');
  });

  it('refuses a report in the way, and makes the same bytes twice', async () => {
    await correct('board.gbr --report');
    const first = desk.read('out/board.report.pdf');
    expect((await correct('board.gbr --report --overwrite')).code).toBe(0);
    expect(Buffer.compare(desk.read('out/board.report.pdf'), first)).toBe(0);
    expect((await correct('board.gbr --report')).said).toMatch(/exists already/);
  });
});
