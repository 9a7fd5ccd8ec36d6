import { basename } from 'node:path';
import { mapOpenings } from '../../geometry/affine.js';
import type { Opening } from '../../geometry/types.js';
import type { Stencil } from '../../stencil/make-stencil.js';
import { count } from '../../text.js';
import { jobReport } from '../job-report.js';
import { type OutputFile, reportFiles, sha256 } from '../results.js';
import type { CorrectInput, CorrectReport, CorrectSettings } from './types.js';

/** The page and the PDF on one corrected stencil. @param drawn - the openings of the artwork, before any rules */
export async function correctReport(
  { file, stem, bytes }: CorrectInput,
  { profile, profileSha256, laid: { scanDirection, bed } }: CorrectSettings,
  drawn: readonly Opening[],
  { asked, commanded, check }: Stencil,
  { report, numberAt }: { readonly report: CorrectReport; readonly numberAt: (place: number) => number },
  made: readonly OutputFile[],
): Promise<OutputFile[]> {
  const { side, mirrored, rules, canvas, cut, warnings } = report;
  const source = basename(file);
  const laid = `${side ? `${side} side` : 'side unknown'}, ${mirrored ? 'mirrored' : 'not mirrored'}`;
  const ruled = rules
    ? [
        `The rules ${rules.mark.replace(/#.*/, '')} made ${count(rules.changes, 'change')}; before them there were ${rules.before} openings.`,
      ]
    : [];
  return reportFiles(
    stem,
    jobReport({
      title: `${stem}: a corrected stencil`,
      sentences: [
        `${source}: ${count(asked.openings.length, 'opening')}, ${laid}; corrected for ${profile.name}.`,
        ...ruled,
      ],
      asked: asked.openings,
      called: (place) => ({ name: `${numberAt(place)}`, number: numberAt(place) }),
      commanded,
      canvas: { ...canvas, turned: scanDirection === 'y' },
      profile,
      ...(bed ? { bed } : {}),
      ...(cut ? { figures: cut } : {}),
      faults: check.faults,
      narrow: commanded.corrected.narrow,
      warnings,
      ...(rules ? { layers: [beforeRules(mapOpenings(asked.map, drawn))] } : {}),
      files: made.map(({ name }) => name),
      record: [
        ['artwork', source],
        ['its SHA-256', sha256(bytes)],
        ['profile', profile.name],
        ['its SHA-256', profileSha256],
        ...made.map(({ name, bytes: content }) => [`SHA-256 of ${name}`, sha256(content)] as const),
      ],
    }),
  );
}

function beforeRules(openings: readonly Opening[]) {
  return {
    name: 'before the rules',
    outline: true,
    hidden: true,
    openings: openings.map((region) => ({ regions: [region] })),
  };
}
