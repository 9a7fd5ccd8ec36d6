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
    const groups: number[][] = [];
    const place = new Uint32Array(this.parent.length);
    for (let i = 0; i < place.length; i += 1) {
      const first = this.firstOf(i);
      if (first < i) groups[place[first]].push(i);
      else place[i] = groups.push([i]) - 1;
    }
    return groups;
  }
}
