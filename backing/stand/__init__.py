"""The page on the music stand: a server on this computer, and the page it serves.

Over the socket `/ws`, both send the JSON messages of `messages.py`. A page learns the server's
clock by pings and plays everything later than the server by a constant delay. It receives `hello`
first, then the whole state, then each change.

Over HTTP: `GET /` and `/static/NAME`; `/bank/NAME.json` and `.flac`; `GET` and `PUT` of
`/tunes/NAME.chart` and `/sets/NAME`. A `PUT` needs the tag of the text that was edited, and answers
412 with the other text where the file has changed since; with `?beside=mine` or `theirs` it saves a
version under a free name. `POST /new?title=` saves a starter chart; `POST /check` returns the
faults of a chart's text.
"""
