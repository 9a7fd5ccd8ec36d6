/** Text as it may stand in XML and HTML, between tags and in quotes. */
export function escapeXml(text: string): string {
  return text.replace(/[&<>"]/g, (letter) => ENTITIES[letter as keyof typeof ENTITIES]);
}

const ENTITIES = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' } as const;
