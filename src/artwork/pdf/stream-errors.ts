/** A stream that can't be decoded here; the renderer may still know how. */
export class UndecodedStream extends Error {}

/** A stream that nobody can decode. */
export class DamagedStream extends Error {}
