/** A file of a command's results, not yet written. */
export interface OutputFile {
  readonly name: string;
  readonly bytes: Uint8Array;
}
