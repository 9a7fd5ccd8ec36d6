/** 1/(1 + e^−η) with no loss for either sign. */
export function expit(eta: number): number {
  return eta >= 0 ? 1 / (1 + Math.exp(-eta)) : Math.exp(eta) / (1 + Math.exp(eta));
}
