import { tagged } from '../../geometry/copies.js';
import type { Opening } from '../../geometry/types.js';
import type { RuleSet } from './rule-types.js';

/** Attribute of an opening that names the rule sets it has been through. */
const TREATED_ATTRIBUTE = 'apertrue.treated';

/** FNV-1a, 32 bits: short, and the same on every machine. */
function hash(text: string): string {
  let h = 0x811c9dc5;
  for (let i = 0; i < text.length; i += 1) {
    h ^= text.charCodeAt(i);
    h = Math.imul(h, 0x01000193);
  }
  return (h >>> 0).toString(16).padStart(8, '0');
}

/** The mark of a rule set: its name and a hash of its content; words that change nothing (purpose, why) don't count. */
export function ruleSetMark(rules: RuleSet): string {
  const content = JSON.stringify([rules.designThicknessMm, rules.rules.map(({ select, action }) => [select, action])]);
  return `${rules.name.replace(/\s+/g, '-')}#${hash(content)}`;
}

/** The marks that an opening carries. */
export function marksOf(opening: Opening): string[] {
  return opening.tag?.attributes?.[TREATED_ATTRIBUTE]?.split(' ').filter(Boolean) ?? [];
}

/** The opening with one more mark. */
export function withMark(opening: Opening, mark: string): Opening {
  const marks = marksOf(opening);
  if (marks.includes(mark)) return opening;
  const attributes = { ...opening.tag?.attributes, [TREATED_ATTRIBUTE]: [...marks, mark].join(' ') };
  return tagged(opening, { ...opening.tag, attributes });
}
