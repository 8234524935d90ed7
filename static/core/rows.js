/** Rows of the outbox, as a driver counts them. */

/**
 * The rows that are a driver's reports; the number a driver is shown counts these alone.
 * A row that cannot be read back may be one.
 * @template {{item: {kind: string} | null}} T
 * @param {T[]} rows
 * @returns {T[]}
 */
export function reportsOf(rows) {
  return rows.filter((row) => !row.item || row.item.kind === "report");
}
