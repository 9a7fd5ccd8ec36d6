/** Numbers that are taken out smallest first (a binary heap). */
export class NumberQueue {
  private readonly items: number[] = [];

  push(value: number): void {
    const { items } = this;
    let i = items.length;
    while (i > 0) {
      const parent = (i - 1) >> 1;
      if (items[parent] <= value) break;
      items[i] = items[parent];
      i = parent;
    }
    items[i] = value;
  }

  /** The smallest number, or undefined when there is none. */
  pop(): number | undefined {
    const { items } = this;
    const least = items[0];
    const value = items.pop();
    if (value === undefined || items.length === 0) return least;
    let i = 0;
    for (;;) {
      let child = 2 * i + 1;
      if (child >= items.length) break;
      if (child + 1 < items.length && items[child + 1] < items[child]) child += 1;
      if (items[child] >= value) break;
      items[i] = items[child];
      i = child;
    }
    items[i] = value;
    return least;
  }
}
