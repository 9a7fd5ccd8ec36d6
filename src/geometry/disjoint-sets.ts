import { listIn } from '../list-in.js';
/** Things by number, 0, 1, 2, …, that are put together pair by pair into groups (union and find, with halved paths). */
export class DisjointSets {
  private readonly parent: Uint32Array;

  constructor(count: number) {
    this.parent = Uint32Array.from({ length: count }, (_, i) => i);
  }

  /** The first of the group to which a thing belongs. */
  firstOf(i: number): number {
    const { parent } = this;
    let at = i;
    while (parent[at] !== at) {
      parent[at] = parent[parent[at]];
      at = parent[at];
    }
    return at;
  }

  areTogether(i: number, j: number): boolean {
    return this.firstOf(i) === this.firstOf(j);
  }

  join(i: number, j: number): void {
    const p = this.firstOf(i);
    const q = this.firstOf(j);
    this.parent[Math.max(p, q)] = Math.min(p, q);
  }

  /** All groups, each ascending, in the order of their first members. */
  groups(): number[][] {
    const groups = new Map<number, number[]>();
    for (let i = 0; i < this.parent.length; i += 1) {
      const first = this.firstOf(i);
      listIn(groups, first).push(i);
    }
    return [...groups.values()];
  }
}
