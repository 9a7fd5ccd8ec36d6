import { escapeXml } from '../../text.js';
import type { Block, Report } from './blocks.js';
import { drawNumbers, drawWalls, frameOf } from './draw-stencil.js';

/**
 * A report as one HTML file that needs nothing else: no network, no fonts, no other file. Prints on paper; follows the
 * reader's light or dark setting; colours keep the contrast that WCAG 2.1 level AA asks for (4.5 : 1 for text).
 */
export function reportHtml({ title, blocks }: Report): string {
  const moves = blocks.some(({ kind }) => kind === 'stencil' || kind === 'close-up');
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${escapeXml(title)}</title>
<style>${STYLE}</style>
</head>
<body>
<main>
<h1>${escapeXml(title)}</h1>
${blocks.map(drawBlock).join('\n')}
</main>
${moves ? `<script>${MOVING}</script>\n` : ''}</body>
</html>
`;
}

function drawBlock(block: Block, index: number): string {
  switch (block.kind) {
    case 'heading':
      return `<h2>${escapeXml(block.text)}</h2>`;
    case 'words':
      return `<p${block.tone ? ` class="${block.tone}"` : ''}>${escapeXml(block.text)}</p>`;
    case 'list': {
      const tag = block.ordered ? 'ol' : 'ul';
      return `<${tag}>${block.items.map((item) => `<li>${escapeXml(item)}</li>`).join('')}</${tag}>`;
    }
    case 'table':
      return drawTable(block);
    case 'picture':
      return `<figure class="paper">${block.svg.replace('<svg', `<svg role="img" aria-label="${escapeXml(block.words)}"`)}</figure>`;
    case 'stencil':
      return drawStencil(block, index);
    case 'close-up':
      return closeUp(
        '',
        `${escapeXml(block.find)} <input type="text" data-find>`,
        block.svg.replace('<svg', `<svg role="img" aria-label="${escapeXml(block.words)}" tabindex="0"`),
        block.words,
      );
  }
}

function drawTable({ caption, head, rows }: Extract<Block, { kind: 'table' }>): string {
  const heads = head.map((cell) => `<th scope="col">${escapeXml(cell)}</th>`).join('');
  const body = rows.map(
    ([first, ...others]) =>
      `<tr><th scope="row">${together(first)}</th>${others.map((cell) => `<td>${together(cell)}</td>`).join('')}</tr>`,
  );
  return `<div class="table" role="region" aria-label="${escapeXml(caption)}" tabindex="0"><table><caption>${escapeXml(caption)}</caption><thead><tr>${heads}</tr></thead><tbody>${body.join('')}</tbody></table></div>`;
}

/** A width stays with its height, a number with its unit; a long name or checksum may be broken. */
const together = (cell: string): string =>
  escapeXml(cell)
    .replace(/(?<=\d) (?=x \d|mm\b|px\b|%)|(?<=\d x|±) /g, '\u00a0')
    .replace(/\S{16}(?=\S{8})/g, '$&<wbr>');

function drawStencil({ layers, words }: Extract<Block, { kind: 'stencil' }>, index: number): string {
  const frame = frameOf(layers);
  const [width, height] = [frame.maxX - frame.minX, frame.maxY - frame.minY].map((mm) => Number(mm.toFixed(3)));
  const choices = layers.map(
    ({ name, hidden }, i) =>
      `<label><input type="checkbox" data-layer="${index}-${i}"${hidden ? '' : ' checked'}> ${escapeXml(name)}</label>`,
  );
  const group = (kind: string, i: number, drawn: string): string =>
    `<g class="${kind}" data-of="${index}-${i}"${layers[i].hidden ? ' visibility="hidden"' : ''}>${drawn}</g>`;
  // All numbers lie above all walls.
  const drawn = [
    ...layers.map((layer, i) => group('walls', i, drawWalls(layer, frame))),
    ...layers.map((layer, i) => group('numbers', i, drawNumbers(layer, frame))),
  ];
  const svg = `<svg viewBox="0 0 ${width} ${height}" role="img" aria-label="${escapeXml(words)}" tabindex="0">${drawn.join('')}</svg>`;
  return closeUp(choices.join(' '), 'opening no. <input type="number" min="1" data-find>', svg, words);
}

/** A drawing with the means to look at it closely. */
function closeUp(choices: string, find: string, svg: string, words: string): string {
  return `<figure class="stencil">
<div class="tools">${choices} <button type="button" data-zoom="0.667">closer</button> <button type="button" data-zoom="1.5">further</button> <button type="button" data-zoom="all">all of it</button> <label>${find}</label></div>
${svg}
<figcaption>${escapeXml(words)} Wheel or + and − change the size, dragging or the arrow keys move.</figcaption>
</figure>`;
}

const STYLE = `
:root{color-scheme:light dark;--paper:#fff;--ink:#1a1a1a;--soft:#595959;--line:#c4c4c4;--good:#00604a;--bad:#a33c00;--open:#8fc7e8;--wall:#124a6b;--doubt:#f0b48a}
@media screen and (prefers-color-scheme:dark){:root{--paper:#161616;--ink:#ececec;--soft:#b5b5b5;--line:#4d4d4d;--good:#5fd3ae;--bad:#ffa366;--open:#1f5878;--wall:#9fd4f2;--doubt:#8a4a1c}}
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:16px/1.5 system-ui,sans-serif}
main{max-width:62rem;margin:0 auto;padding:1rem}
h1{font-size:1.5rem;margin:.5rem 0}h2{font-size:1.15rem;margin:2rem 0 .5rem;border-bottom:1px solid var(--line)}
p.good{color:var(--good);font-weight:600}p.warning{color:var(--bad);font-weight:600}
.table{overflow-x:auto}table{border-collapse:collapse;font-variant-numeric:tabular-nums}
caption{text-align:left;color:var(--soft);padding:.25rem 0}
th,td{text-align:left;padding:.2rem .8rem .2rem 0;border-bottom:1px solid var(--line);vertical-align:top}
tbody th{font-weight:400;min-width:4.5rem}
@media screen and (max-width:30rem){table{font-size:.85rem}th,td{padding-right:.5rem}}
figure{margin:1rem 0}figure.paper{background:#fff;padding:.5rem}figure.paper svg{max-width:100%;height:auto;display:block}
.tools{display:flex;flex-wrap:wrap;gap:.4rem 1rem;align-items:center;margin-bottom:.4rem}
button,input{font:inherit;color:inherit;background:var(--paper);border:1px solid var(--soft);border-radius:.3rem;padding:.15rem .6rem}
input[type=number]{width:6rem}input[type=checkbox]{width:1.2rem;height:1.2rem;vertical-align:middle}
.stencil svg{display:block;width:100%;height:min(60vh,40rem);border:1px solid var(--line);touch-action:none;cursor:grab}
:focus-visible{outline:3px solid var(--good);outline-offset:2px}
.opening{fill:var(--open);stroke:var(--wall);stroke-width:1px;vector-effect:non-scaling-stroke;fill-rule:evenodd}
.opening.doubtful{fill:var(--doubt);stroke:var(--bad);stroke-dasharray:4 2;stroke-width:2px}
.opening.outline{fill:none;stroke:var(--ink)}
.numbers{fill:var(--ink);text-anchor:middle;font-family:system-ui,sans-serif;pointer-events:none}
figcaption{color:var(--soft);font-size:.9rem}
@media print{html,body{font-size:9.5pt}body{line-height:1.3}h2{margin:1rem 0 .3rem}figure{margin:.4rem 0}figure.paper{padding:0}main{max-width:none;padding:0}.tools{display:none}.stencil svg{height:14cm}figure.paper svg{max-height:23cm}h2,caption,thead{break-after:avoid}figure,tr{break-inside:avoid}}
`.trim();

/**
 * Numbers that are too small to be read on their openings stand beside them, where there is room between openings and
 * other numbers; those without room come when one looks closer.
 */
const NAMING = `
const numbers=[...svg.querySelectorAll('.numbers text')].map(t=>({t,box:t.dataset.box.split(' ').map(Number),own:['x','y','font-size'].map(key=>Number(t.getAttribute(key)))}));
const name=()=>{waits=0;if(numbers.length===0)return;
const k=perPx(),cell=24*k,taken=new Map(),said=new Set();
const r=svg.getBoundingClientRect();const [midX,midY]=[view[0]+view[2]/2,view[1]+view[3]/2];
const shown=[midX-r.width*k/2,midY-r.height*k/2,midX+r.width*k/2,midY+r.height*k/2];
const apart=(p,q)=>p[0]>=q[2]||q[0]>=p[2]||p[1]>=q[3]||q[1]>=p[3];
const cells=([x0,y0,x1,y1])=>{const keys=[];for(let i=Math.floor(x0/cell);i<=x1/cell;i++)for(let j=Math.floor(y0/cell);j<=y1/cell;j++)keys.push(i+' '+j);return keys};
const take=box=>cells(box).forEach(key=>taken.has(key)?taken.get(key).push(box):taken.set(key,[box]));
const isFree=box=>box[0]>=shown[0]&&box[1]>=shown[1]&&box[2]<=shown[2]&&box[3]<=shown[3]&&cells(box).every(key=>(taken.get(key)||[]).every(other=>apart(box,other)));
const seen=numbers.filter(({t,box})=>!apart(box,shown)&&t.parentNode.getAttribute('visibility')!=='hidden');
for(const {box} of seen)take(box);
for(const {t,box,own} of seen){
const fits=own[2]>=9*k;const words=t.textContent;const [w,h]=[(7*words.length+2)*k,12*k];let spot;
const [mx,my]=[(box[0]+box[2])/2,(box[1]+box[3])/2];
if(!fits&&!said.has(words))for(const [dx,dy] of [[1,0],[-1,0],[0,-1],[0,1],[1,-1],[-1,-1],[1,1],[-1,1]]){
if(spot)break;const x=mx+dx*((box[2]-box[0]+w)/2+2*k),y=my+dy*((box[3]-box[1]+h)/2+2*k);const at=[x-w/2,y-h/2,x+w/2,y+h/2];
if(isFree(at))spot=at}
if(spot){take(spot);said.add(words)}
const [x,y,size]=spot?[(spot[0]+spot[2])/2,spot[3]-2.5*k,11*k]:own;
t.setAttribute('x',x);t.setAttribute('y',y);t.setAttribute('font-size',size);
if(fits||spot)t.removeAttribute('display');else t.setAttribute('display','none')}};`.trim();

/** Looking closer at a stencil: by wheel, fingers, buttons and keys. */
const MOVING = `
for(const figure of document.querySelectorAll('.stencil')){
const svg=figure.querySelector('svg');const all=svg.getAttribute('viewBox').split(' ').map(Number);let view=[...all];let waits=0;
${NAMING}
const show=()=>{svg.setAttribute('viewBox',view.join(' '));waits=waits||requestAnimationFrame(name)};
const perPx=()=>{const r=svg.getBoundingClientRect();return Math.max(view[2]/r.width,view[3]/r.height)};
const zoom=(by,at)=>{const size=Math.min(4,Math.max(2e-4,view[2]*by/all[2]));by=size*all[2]/view[2];const [x,y]=at||[view[0]+view[2]/2,view[1]+view[3]/2];view=[x-(x-view[0])*by,y-(y-view[1])*by,view[2]*by,view[3]*by];show()};
const place=e=>{const m=svg.getScreenCTM().inverse();const p=new DOMPoint(e.clientX,e.clientY).matrixTransform(m);return [p.x,p.y]};
svg.addEventListener('wheel',e=>{e.preventDefault();zoom(e.deltaY>0?1.25:0.8,place(e))},{passive:false});
const held=new Map();let apart=0;
svg.addEventListener('pointerdown',e=>{svg.setPointerCapture(e.pointerId);held.set(e.pointerId,e);apart=0});
svg.addEventListener('pointermove',e=>{const last=held.get(e.pointerId);if(!last)return;if(held.size===1){const k=perPx();view[0]-=(e.clientX-last.clientX)*k;view[1]-=(e.clientY-last.clientY)*k;show()}held.set(e.pointerId,e);if(held.size===2){const [p,q]=[...held.values()];const d=Math.hypot(p.clientX-q.clientX,p.clientY-q.clientY);if(apart>0&&d>0)zoom(apart/d);apart=d}});
for(const end of ['pointerup','pointercancel'])svg.addEventListener(end,e=>{held.delete(e.pointerId);apart=0});
svg.addEventListener('keydown',e=>{const step=view[2]/8;const moves={ArrowLeft:[-step,0],ArrowRight:[step,0],ArrowUp:[0,-step],ArrowDown:[0,step]};if(moves[e.key]){view[0]+=moves[e.key][0];view[1]+=moves[e.key][1];show()}else if(e.key==='+')zoom(0.8);else if(e.key==='-')zoom(1.25);else if(e.key==='0'){view=[...all];show()}else return;e.preventDefault()});
for(const b of figure.querySelectorAll('button'))b.addEventListener('click',()=>{if(b.dataset.zoom==='all'){view=[...all];show()}else zoom(Number(b.dataset.zoom))});
for(const box of figure.querySelectorAll('[data-layer]'))box.addEventListener('change',()=>{for(const g of svg.querySelectorAll('[data-of="'+box.dataset.layer+'"]'))g.setAttribute('visibility',box.checked?'visible':'hidden');show()});
figure.querySelector('[data-find]').addEventListener('input',e=>{const found=[...svg.querySelectorAll('text')].find(t=>t.textContent===e.target.value);if(!found)return;const own=numbers.find(({t})=>t===found);const [x,y,high]=own?own.own:['x','y','font-size'].map(key=>Number(found.getAttribute(key)));const size=Math.max(2,12*high);view=[x-size/2,y-size/2*all[3]/all[2],size,size*all[3]/all[2]];show()});
addEventListener('resize',show);show();
}`.trim();
