// The arithmetic of loops, without the page. A bar has its numbers in the form as played, counted from 1:
// two where its part is played twice.

/**
 * The first and the last of two places, in whichever order.
 * @param {number} from
 * @param {number} to
 * @returns {[number, number]}
 */
export const span = (from, to) => [Math.min(from, to), Math.max(from, to)];

/**
 * The command that loops from one bar to another; null if one of them is never played.
 * @param {number[]} from the numbers of a bar
 * @param {number[]} to
 */
export function command([from], [to]) {
  return from && to ? `loop ${span(from, to).join("-")}` : null;
}

/**
 * Whether any of a bar's numbers is in a loop.
 * @param {number[]} numbers
 * @param {[number, number] | null} [loop] the first and the last bar
 */
export const plays = (numbers, loop) => numbers.some((each) => loop && each >= loop[0] && each <= loop[1]);
