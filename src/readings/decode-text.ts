/** Text of a file as spreadsheets save it: UTF-8, UTF-16 with or without a byte order mark, or else Windows' Latin letters. */
export function decodeText(bytes: Uint8Array): string {
  const utf16 = utf16Kind(bytes);
  if (utf16) return new TextDecoder(utf16).decode(bytes);
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder('windows-1252').decode(bytes);
  }
}

/** Zero bytes stand in every second place of Latin text in UTF-16, and in no other text. */
function utf16Kind(bytes: Uint8Array): 'utf-16le' | 'utf-16be' | undefined {
  if (bytes[0] === 0xff && bytes[1] === 0xfe) return 'utf-16le';
  if (bytes[0] === 0xfe && bytes[1] === 0xff) return 'utf-16be';
  const zeros = [0, 0];
  const looked = Math.min(bytes.length - (bytes.length % 2), 512);
  for (let i = 0; i < looked; i += 1) if (bytes[i] === 0) zeros[i % 2] += 1;
  if (bytes.length % 2 === 0 && zeros[1] > looked / 4 && zeros[0] === 0) return 'utf-16le';
  if (bytes.length % 2 === 0 && zeros[0] > looked / 4 && zeros[1] === 0) return 'utf-16be';
  return undefined;
}
