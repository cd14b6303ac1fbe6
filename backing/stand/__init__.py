"""The page on the music stand: a server on this computer, and the page it serves.

How the two talk. Times are seconds of the server's steady clock, ticks those of the transport: 960
a quarter note, counted anew from each press of play. A page knows the server's clock by pings and
plays everything a little later than the server has it, by a constant.

Over the socket `/ws`, JSON objects with a `type`. A page sends

- `say` (`line`, `at`): a verb as `live/verbs.py` has it, and the moment that was being heard;
- `again` (`tune`, `output`, `snapshot`): what `state` said when the server went away; restored by a
  server to which nothing has been said yet, and else left. What does not fit is told as a `fault`;
- `set` (`do`: new, rename, delete, add, move, out; `name`; `tune`, `place`, `to`): another order;
- `open` (`tune`), `output` (`name`), `listen` (`on`), `ping` (`mine`);
- `names` (`as`: letters, numbers, roman), `shapes` (`instrument`, which the chop then plays, or
  `shown` for those it plays anyway; `left`): how it shows the chart.

It is sent

- `hello`, before all else; `songbook`: charts and sets, as markup, and what to choose from;
- `chart`: the form as written, in the key that sounds (`sheet`), as markup (`paper`);
- `bank`: where the sounds are; `sketch` when better ones follow;
- `bars`: bars to `add`, with their notes, `chords` (tick, text, markup) and the `cells` in which
  these stand (part, bar as written, number in it), and numbers of bars to `drop` (`telling`);
- `time`: from which tick on, at what time, which tempo holds, as far as bars are made;
- `state`: all that is wished and played (`tune`), whenever it changes; `pressed`, `values` and
  `words` tell controls by their lines how they stand (`words`), `snapshot` is what `again` takes,
  in which a page changes no more than `playing` (`live/snapshot`);
- `pong`; `news` and `fault`: sentences.

Over HTTP: `GET /` and `/static/NAME`; `/bank/NAME.json` and `.flac`; `GET` and `PUT` of
`/tunes/NAME.chart` and `/sets/NAME`, with tags, so that nobody saves over what was not read (412
brings the other text), or `?beside=mine` and `theirs`, which keeps a version under a name of its
own; `POST /new?title=` a chart to begin with; `POST /check` a chart's text for its faults.
"""
