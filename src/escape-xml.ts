import { visibleLines } from './visible-text.js';

const ENTITIES: Readonly<Record<string, string>> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' };

/** Text as it may stand in XML and HTML, between tags and in quotes: what can't be seen is shown, what XML has no sign for is a blank. */
export const escapeXml = (text: string): string =>
  visibleLines(text)
    .replace(/[\ufffe\uffff]|\p{Cs}/gu, ' ')
    .replace(/[&<>"]/g, (letter) => ENTITIES[letter]);
