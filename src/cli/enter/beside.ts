import { resolve } from 'node:path';
import { undefinedIfRefused, unlessRefused } from '../../errors.js';
import { fitWindow, isUncertain } from '../../fit/window/fit-window.js';
import { joinGrids } from '../../fit/window/gather-cells.js';
import type { FilmWords } from '../../fit/window/refusal.js';
import type { ReadingSession } from '../../machine/types.js';
import type { ReadingsForm } from '../../readings/readings-form.js';
import { threeDigits } from '../../text.js';
import { readSessions } from '../fit/input.js';
import type { Io } from '../io.js';

/** Another coupon whose readings file lies beside the one that is being filled in. */
export interface Beside {
  readonly path: string;
  readonly sessions: readonly ReadingSession[];
  readonly form: ReadingsForm;
}

export const isRead = ({ sessions }: Beside): boolean => sessions.some(({ readings }) => readings.length > 0);

/** Coupons of lengths beside this one; what can't be read there is told when it is fitted. */
export const couponsBeside = (file: string, io: Io): Promise<Beside[]> => othersWith('nominalMm', [''], file, io);

/** The setting that `window` names by the grid beside this coupon, or by the last one of those in folders below: it was cut with that. */
export async function chosenBeside(
  file: string,
  fixed: FilmWords['fixed'],
  io: Io,
): Promise<Pick<ReadingsForm, 'powerPercent' | 'speedMmS'>> {
  const grids = await othersWith('powerPercent', ['', 'grid-*/'], file, io);
  for (const { sessions } of grids.filter(isRead).reverse()) {
    const setting = settingBy(sessions, fixed);
    if (setting) return setting;
  }
  return {};
}

function settingBy(sessions: readonly ReadingSession[], fixed: FilmWords['fixed']) {
  // What is wrong with it `window` tells.
  const setting = unlessRefused(() => {
    const { readings, features } = joinGrids(sessions);
    return fitWindow(readings, features, { fixed }).setting;
  });
  if (!setting || isUncertain(setting)) return undefined;
  return { powerPercent: threeDigits(setting.powerPercent), speedMmS: threeDigits(setting.speedMmS) };
}

/** @param key - what a feature has that is asked for */
async function othersWith(key: string, folders: readonly string[], file: string, io: Io): Promise<Beside[]> {
  const own = file.replace(/[^/\\]*$/, '');
  const beside: Beside[] = [];
  for (const folder of folders) {
    for (const path of await io.expand(`${own}${folder}*.readings.csv`)) {
      if (resolve(io.cwd, path) === resolve(io.cwd, file) || !(await io.exists(path))) continue;
      const read = await readSessions([path], {}, { ...io, say: () => undefined }).catch(undefinedIfRefused);
      const sessions = read?.sessions.filter(({ features }) => features.some((one) => key in one)) ?? [];
      if (read && sessions.length > 0) beside.push({ path, sessions, form: read.form });
    }
  }
  return beside;
}
