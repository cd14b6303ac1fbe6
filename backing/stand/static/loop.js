// The arithmetic of loops, without the page. Bars have the numbers under which the form plays them,
// counted from 1; a bar of a part that comes twice has two.

/**
 * The first and the last place of what is drawn over, in whichever direction.
 * @param {number} from
 * @param {number} to
 * @returns {[number, number]}
 */
export const span = (from, to) => [Math.min(from, to), Math.max(from, to)];

/**
 * The command that loops from one bar to another; null where one of them is never played.
 * @param {number[]} from the numbers of a bar
 * @param {number[]} to
 */
export function command([from], [to]) {
  return from && to ? `loop ${span(from, to).join("-")}` : null;
}

/**
 * Whether a loop plays a bar, under any of its numbers.
 * @param {number[]} numbers
 * @param {[number, number] | null} [loop] the first and the last bar
 */
export const plays = (numbers, loop) => numbers.some((each) => loop && each >= loop[0] && each <= loop[1]);
