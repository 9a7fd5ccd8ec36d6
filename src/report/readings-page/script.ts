import { OUTCOMES } from '../../readings/where-to-read.js';

/**
 * What the page does, as it stands in it. No library and no network: it must open from a memory stick in ten years.
 * `DATA` is put before it.
 */
export const SCRIPT = String.raw`
'use strict';
const byId = (id) => document.getElementById(id);
const state = { at: 0, rows: {}, form: {} };
const KEY = 'apertrue ' + DATA.coupon + ' ' + DATA.stamp;
try { Object.assign(state, JSON.parse(localStorage.getItem(KEY) || '{}')); } catch { /* Private windows keep nothing. */ }
const keep = () => { try { localStorage.setItem(KEY, JSON.stringify(state)); } catch { /* The download still works. */ } };
const OUTCOMES = [${OUTCOMES.map((outcome) => `'${outcome}'`).join(', ')}];
const FIRST = DATA.features.slice(0, DATA.first);
let asked = '';

function lengthOf(text) {
  const match = /^([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*([a-zµμ"″]*)$/i.exec(text);
  const unit = match && DATA.units[match[2].toLowerCase()];
  return unit === undefined || !match ? undefined : { value: Number(match[1].replace(',', '.')) * unit, unit };
}
// What the form says of the gauge holds, and forms are in mm.
const unitOf = (feature) => feature.unit && !state.form.gauge ? feature.unit : '';
const short = (mm) => String(Number(mm.toPrecision(4)));

function questionOf(feature, { value, unit }) {
  if (!feature.range) return undefined;
  const [low, high] = feature.range;
  if (value >= low && value <= high) return undefined;
  const says = short(value) + (feature.nominalMm ? ' mm, where about ' + feature.nominalMm.toFixed(2) + ' mm is expected' : ' lies outside ' + low + ' to ' + high);
  if (!feature.nominalMm) return says;
  const off = (by) => Math.abs(Math.log(value * by / feature.nominalMm));
  const [slip] = (DATA.slips[unit] || DATA.slips[1])
    .filter(([by]) => value * by >= low && value * by <= high && value * by >= DATA.leastShare * feature.nominalMm)
    .sort(([a], [b]) => off(a) - off(b));
  if (slip) return says + ': ' + slip[1] + ' (that would be ' + short(value * slip[0]) + ' mm)';
  return says + ': measured between the edges that are named?';
}

function filled(features) { return features.filter((one) => state.rows[one.id] && (state.rows[one.id].reading || state.rows[one.id].outcome)).length; }
function countWords() {
  const [all, first] = [filled(DATA.features), filled(FIRST)];
  if (FIRST.length === DATA.features.length) return all + ' of ' + DATA.features.length + ' read';
  if (first < FIRST.length) return first + ' of the ' + FIRST.length + ' to read first (' + DATA.features.length + ' in all)';
  return all + ' of ' + DATA.features.length + ' read: ' + DATA.enoughFor + '. Download the CSV, or read on to make it surer.';
}

function show() {
  state.at = Math.max(0, Math.min(DATA.features.length, state.at));
  const feature = DATA.features[state.at];
  byId('count').textContent = countWords();
  byId('bar').value = filled(FIRST);
  byId('answer').textContent = feature ? '' : 'That is the last one. Download the CSV now.';
  byId('entry').hidden = !feature;
  asked = '';
  keep();
  if (!feature) { byId('id').textContent = 'Done'; byId('say').textContent = ''; byId('where').textContent = ''; byId('save').focus(); return; }
  const row = state.rows[feature.id] || {};
  byId('id').textContent = feature.id;
  byId('say').textContent = feature.say + (unitOf(feature) ? feature.inUnit : '');
  byId('where').textContent = feature.where;
  byId('value').value = row.outcome || row.reading || '';
  byId('note').value = row.note || '';
  for (const button of document.querySelectorAll('#outcomes button')) button.hidden = !feature.outcomes.includes(button.value);
  draw(feature);
  byId('value').focus();
  byId('value').select();
}

function draw(feature) {
  const [x0, y0, x1, y1] = feature.view;
  byId('near').setAttribute('viewBox', [x0, DATA.heightMm - y1, x1 - x0, y1 - y0].join(' '));
  const size = Math.max(x1 - x0, y1 - y0);
  for (const mark of document.querySelectorAll('.mark')) {
    mark.setAttribute('d', feature.mark);
    mark.setAttribute('stroke-width', String(mark.dataset.of === 'near' ? size / 90 : DATA.widthMm / 250));
  }
  const spot = byId('spot');
  const pad = Math.max(1, DATA.widthMm / 60);
  spot.setAttribute('x', feature.box[0] - pad);
  spot.setAttribute('y', DATA.heightMm - feature.box[3] - pad);
  spot.setAttribute('width', feature.box[2] - feature.box[0] + 2 * pad);
  spot.setAttribute('height', feature.box[3] - feature.box[1] + 2 * pad);
  spot.setAttribute('stroke-width', DATA.widthMm / 300);
}

function take(typed) {
  const feature = DATA.features[state.at];
  const row = { ...(state.rows[feature.id] || {}), note: byId('note').value.trim() };
  const bare = typed.trim();
  const text = /^[\d.,]+$/.test(bare) ? bare + unitOf(feature) : bare;
  const outcome = OUTCOMES.find((one) => one === text.toLowerCase() || (text !== '' && one[0] === text.toLowerCase()));
  if (text === '') { row.reading = ''; row.outcome = ''; }
  else if (outcome) {
    if (!feature.outcomes.includes(outcome)) return say(feature.outcomes.length ? 'Here: ' + feature.outcomes.join(', ') + '.' : 'A number, please.');
    row.outcome = outcome; row.reading = '';
  } else {
    const length = lengthOf(text);
    if (length === undefined || feature.kind === 'cell') return say(feature.kind === 'cell' ? 'Type u, p, t or m.' : 'A length such as 0.31, 0,31, 310um, 12.2mil or 0.0122in.');
    const question = questionOf(feature, length);
    if (question && asked !== text) { asked = text; return say(question + ' Enter again keeps it.'); }
    row.reading = text; row.outcome = '';
  }
  state.rows[feature.id] = row;
  state.at += 1;
  show();
}
function say(words) { byId('answer').textContent = words; byId('value').focus(); byId('value').select(); }

const quoted = (cell) => /[",\r\n]/.test(cell) ? '"' + cell.replaceAll('"', '""') + '"' : cell;
function csv() {
  const form = DATA.form.map(([line, example]) => '# ' + line + ' (' + example + '):' + (state.form[line] ? ' ' + state.form[line] : ''));
  const rows = DATA.features.map((feature) => {
    const row = state.rows[feature.id] || {};
    // What the form says of the gauge holds for rows that say nothing.
    const gauge = row.reading && feature.gauge && !state.form.gauge ? feature.gauge.map(String) : ['', ''];
    const note = feature.say + (row.note ? ' Note: ' + row.note : '');
    return [feature.id, row.reading || '', row.outcome || '', ...gauge, note].map(quoted).join(',');
  });
  return [DATA.header, ...form, ...rows].join('\n') + '\n';
}

for (const [line, example] of DATA.form) {
  const label = document.createElement('label');
  const input = document.createElement('input');
  input.placeholder = example;
  input.value = state.form[line] || '';
  input.addEventListener('input', () => { state.form[line] = input.value.trim(); keep(); });
  label.append(line, input);
  byId('form').append(label);
}
byId('bar').max = FIRST.length;
byId('entry').addEventListener('submit', (event) => { event.preventDefault(); take(byId('value').value); });
byId('outcomes').addEventListener('click', (event) => { if (event.target.value) take(event.target.value); });
byId('back').addEventListener('click', () => { state.at -= 1; show(); });
byId('skip').addEventListener('click', () => { state.at += 1; show(); });
byId('save').addEventListener('click', () => {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(new Blob([csv()], { type: 'text/csv' }));
  link.download = DATA.coupon + '.readings.csv';
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
});
document.addEventListener('keydown', (event) => {
  if (event.key === 'ArrowUp') { event.preventDefault(); state.at -= 1; show(); }
  if (event.key === 'ArrowDown') { event.preventDefault(); state.at += 1; show(); }
  if (event.key === 's' && (event.ctrlKey || event.metaKey)) { event.preventDefault(); byId('save').click(); }
});
globalThis.apertrueCsv = csv;
show();
`;

/** How the page looks; light and dark by what the reader's system says. */
export const STYLE = `
:root{color-scheme:light dark;--ground:#f6f4ef;--card:#fff;--ink:#1d2327;--soft:#5a646b;--line:#c9c5ba;--cut:#8a949a;--mark:#b3261e;--go:#0b5d57;--on-go:#fff;--ask:#7a4a00}
@media (prefers-color-scheme:dark){:root{--ground:#15191b;--card:#1f2528;--ink:#eceff0;--soft:#a9b4b9;--line:#485257;--cut:#7d8a90;--mark:#ff8a7a;--go:#7fd6cd;--on-go:#08211f;--ask:#ffc46b}}
*{box-sizing:border-box}
body{margin:0;background:var(--ground);color:var(--ink);font:16px/1.45 system-ui,sans-serif}
header,main{max-width:1280px;margin:0 auto;padding:12px 16px}
h1{font-size:1.15rem;margin:0}
header p{margin:2px 0 0;color:var(--soft)}
progress{width:100%;height:8px;accent-color:var(--go)}
main{display:grid;gap:14px}
section{background:var(--card);border:1px solid var(--line);border-radius:6px;padding:14px}
#task h2{margin:0 0 4px;font-size:1.3rem}
#say{margin:0 0 4px;font-size:1.05rem}
#where{margin:0 0 10px;color:var(--soft)}
label{display:block;font-weight:600;margin:8px 0 5px}
input{font:inherit;width:100%;padding:10px;border:1px solid var(--soft);border-radius:4px;background:var(--ground);color:var(--ink)}
#value{font-size:1.4rem}
:focus-visible{outline:3px solid var(--go);outline-offset:2px}
#answer{min-height:1.5em;margin:6px 0;font-weight:600;color:var(--ask)}
.row{display:flex;flex-wrap:wrap;gap:8px}
button{font:inherit;padding:9px 14px;border:1px solid var(--soft);border-radius:4px;background:transparent;color:var(--ink);cursor:pointer;min-height:44px}
button.go{background:var(--go);border-color:var(--go);color:var(--on-go);font-weight:600}
svg{display:block;width:100%;background:var(--ground);border:1px solid var(--line)}
#near{max-height:min(300px,36vh)}
#whole{max-height:min(420px,42vh);margin-top:10px}
.cut{fill:var(--cut)}
.mark{stroke:var(--mark);fill:none}
.spot{stroke:var(--mark);fill:none}
details{margin-top:12px}
.form{display:grid;grid-template-columns:repeat(auto-fill,minmax(150px,1fr));gap:8px;margin-top:8px}
.form input{padding:6px}
#help{color:var(--soft);font-size:.92rem;margin:10px 0 0}
@media (min-width:820px){main{grid-template-columns:minmax(340px,2fr) 3fr;align-items:start}#task{position:sticky;top:12px}}
@media (max-width:819px){#place{order:-1;display:grid;grid-template-columns:3fr 2fr;gap:8px;padding:8px}#near,#whole{height:130px;margin:0}header{padding-bottom:0}}
`;
