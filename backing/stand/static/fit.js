// How large the chart can be, without the page: sizes in pixels from what was measured.

const LEAST_ROW = 44, MOST_ROW = 116, SHAPE_ROW = 74;
const LEAST_LETTER = 15, MOST_LETTER = 60;
const LEAST_SHRINK = 0.5;   // what would be smaller stands in two rows
const LEAST_SHAPE = 0.8;    // a shape that would be smaller is shown below the chart alone
const NEARLY_WHOLE = 0.995; // browsers round widths
const TIGHT_ROW = 62, MUCH_LARGER = 1.1, SPARE = 0.97;

/** The two heights of a row at which a chart is measured. */
export const TRIALS = [60, 70];

/** @typedef {{ row: number, letter: number }} Size */

/** @type {(value: number, least: number, most: number) => number} */
const between = (value, least, most) => Math.min(Math.max(value, least), most);

/**
 * The largest row and letter with which a chart fits its room, within what can be read.
 * @param {object} measured
 * @param {number[]} measured.heights of the whole chart, at each of the trials
 * @param {number} measured.room the height that there is
 * @param {number} measured.width of a bar
 * @param {boolean} measured.hasShapes whether shapes stand above the chords
 * @returns {Size}
 */
export function size({ heights: [height, higher], room, width, hasShapes }) {
  const shapes = hasShapes ? SHAPE_ROW : 0;
  const lines = Math.max((higher - height) / (TRIALS[1] - TRIALS[0]), 1);  // one above the other
  const row = between(Math.floor((room - height) / lines + TRIALS[0]), LEAST_ROW + shapes, MOST_ROW + shapes);
  return { row, letter: between(Math.min((row - shapes) * 0.5, width * 0.3), LEAST_LETTER, MOST_LETTER) };
}

/** @type {(row: number) => boolean} */
export const isTight = (row) => row < TIGHT_ROW;

/**
 * Whether two columns are worth it: lines of half the length.
 * @param {Size} one
 * @param {Size} two
 */
export const isLarger = (one, two) => two.letter > one.letter * MUCH_LARGER;

/** @type {(share: number) => boolean} */
export const hidesShapes = (share) => share < LEAST_SHAPE;

/**
 * How a bar with more in it than fits is set.
 * @param {number} share the width that it has, of the one that it wants
 * @returns {{ shrink: number | null, inTwoRows: boolean }}
 */
export function squeeze(share) {
  const shrink = share < NEARLY_WHOLE ? Math.max(share * SPARE, LEAST_SHRINK) : null;
  return { shrink, inTwoRows: share < LEAST_SHRINK };
}
