import type { OpeningTag } from '../../geometry/types.js';
import { kept } from '../../kept.js';

/** An attribute's values, in order. */
export type Values = readonly string[];

/** One attribute command, from `%TF…*%` or from a comment that holds one. */
export interface AttributeCommand {
  readonly kind: 'TF' | 'TA' | 'TO' | 'TD';
  /** Empty for a TD that deletes everything. */
  readonly name: string;
  readonly values: Values;
}

/** Reads `TF.FileFunction,Paste,Top` and its like; undefined for anything else. */
export function parseAttribute(text: string): AttributeCommand | undefined {
  const match = /^(TF|TA|TO|TD)\s*([^,]*)(?:,([\s\S]*))?$/i.exec(text);
  if (!match) return undefined;
  const kind = match[1].toUpperCase() as AttributeCommand['kind'];
  const name = match[2].trim();
  if (name === '' && kind !== 'TD') return undefined;
  const values = match[3] === undefined ? [] : match[3].split(',').map((value) => unescapeValue(value.trim()));
  return { kind, name, values };
}

/** `\u00B5` and `\U000000B5` stand for a character. */
function unescapeValue(value: string): string {
  if (!value.includes('\\')) return value;
  return value.replace(/\\u([0-9a-f]{4})|\\U([0-9a-f]{8})/gi, (whole, short?: string, long?: string) => {
    const code = Number.parseInt(short ?? long ?? '', 16);
    return code <= 0x10ffff ? String.fromCodePoint(code) : whole;
  });
}

/** The attributes in force while a file is read. */
export class AttributeState {
  readonly file = new Map<string, Values>();
  private aperture = new Map<string, Values>();
  private object = new Map<string, Values>();
  /** Tags by the aperture's attributes, until an attribute changes. */
  private tags = new Map<ReadonlyMap<string, Values> | undefined, OpeningTag>();

  apply({ kind, name, values }: AttributeCommand): void {
    if (kind === 'TF') this.file.set(name, values);
    else if (kind === 'TA') this.aperture.set(name, values);
    else if (kind === 'TO') this.object.set(name, values);
    else if (name === '') {
      this.aperture = new Map();
      this.object = new Map();
    } else {
      this.aperture.delete(name);
      this.object.delete(name);
    }
    if (kind !== 'TF') this.tags = new Map();
  }

  /** What an aperture defined now carries along. */
  apertureAttributes(): ReadonlyMap<string, Values> {
    return new Map(this.aperture);
  }

  /** Tag of an object drawn now, without its kind, shape and line. */
  tag(aperture: ReadonlyMap<string, Values> | undefined): OpeningTag {
    return kept(this.tags, aperture, () => tagFrom(aperture ? new Map([...aperture, ...this.object]) : this.object));
  }

  /** Tag of a region drawn now; regions carry the aperture attributes in force. */
  regionTag(): OpeningTag {
    return this.tag(this.aperture);
  }
}

function tagFrom(all: ReadonlyMap<string, Values>): OpeningTag {
  const attributes: Record<string, string> = {};
  let component: string | undefined;
  let pin: string | undefined;
  for (const [name, values] of all) {
    if (name === '.C') component ??= values[0];
    else if (name === '.P') {
      component = values[0] ?? component;
      pin = values[1];
      if (values[2]) attributes['.P'] = values[2];
    } else attributes[name] = values.join(',');
  }
  return {
    ...(component ? { component } : {}),
    ...(pin ? { pin } : {}),
    ...(Object.keys(attributes).length > 0 ? { attributes } : {}),
  };
}
