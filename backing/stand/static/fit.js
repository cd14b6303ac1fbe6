// The arithmetic of sizes, without the page: the largest chart that fits, in pixels.

const LEAST_ROW = 44, MOST_ROW = 116, SHAPE_ROW = 74;
const LEAST_LETTER = 15, MOST_LETTER = 60;
const LEAST_SHRINK = 0.5;   // a bar that would be smaller is set in two rows
const LEAST_SHAPE = 0.8;    // a shape that would be smaller is shown only below the chart
const NEARLY_WHOLE = 0.995; // browsers round widths
const TIGHT_ROW = 62, MUCH_LARGER = 1.1, SPARE = 0.97;

/** The two row heights at which a chart is measured. */
export const TRIALS = [60, 70];

/** @typedef {{ row: number, letter: number }} Size */

/** @type {(value: number, least: number, most: number) => number} */
const between = (value, least, most) => Math.min(Math.max(value, least), most);

/**
 * The largest row and letter with which a chart fits its room, within limits of legibility.
 * @param {object} measured
 * @param {number[]} measured.heights the heights of the whole chart at the trials
 * @param {number} measured.room the available height
 * @param {number} measured.width the width of a bar
 * @param {boolean} measured.hasShapes whether there are shapes above the chords
 * @returns {Size}
 */
export function size({ heights: [height, higher], room, width, hasShapes }) {
  const shapes = hasShapes ? SHAPE_ROW : 0;
  const lines = Math.max((higher - height) / (TRIALS[1] - TRIALS[0]), 1);  // the number of rows
  const row = between(Math.floor((room - height) / lines + TRIALS[0]), LEAST_ROW + shapes, MOST_ROW + shapes);
  return { row, letter: between(Math.min((row - shapes) * 0.5, width * 0.3), LEAST_LETTER, MOST_LETTER) };
}

/** @type {(row: number) => boolean} */
export const isTight = (row) => row < TIGHT_ROW;

/**
 * Whether two columns give much larger letters than one.
 * @param {Size} one
 * @param {Size} two
 */
export const isLarger = (one, two) => two.letter > one.letter * MUCH_LARGER;

/** @type {(share: number) => boolean} */
export const hidesShapes = (share) => share < LEAST_SHAPE;

/**
 * How to set a bar whose content is too wide.
 * @param {number} share the available part of the width that it needs
 * @returns {{ shrink: number | null, inTwoRows: boolean }}
 */
export function squeeze(share) {
  const shrink = share < NEARLY_WHOLE ? Math.max(share * SPARE, LEAST_SHRINK) : null;
  return { shrink, inTwoRows: share < LEAST_SHRINK };
}
