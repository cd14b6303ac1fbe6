"""The page on the music stand: a server on this computer, and the page it serves.

Over the socket `/ws`, both send the JSON messages of `messages.py`. A page knows the server's clock
by pings and plays everything a little later than the server has it, by a constant. It is sent
`hello` first, then all there is to know, then what changes.

Over HTTP: `GET /` and `/static/NAME`; `/bank/NAME.json` and `.flac`; `GET` and `PUT` of
`/tunes/NAME.chart` and `/sets/NAME`, with tags, so that nobody saves over what was not read (412
brings the other text), or `?beside=mine` and `theirs`, which keeps a version under a name of its
own; `POST /new?title=` a chart to begin with; `POST /check` a chart's text for its faults.
"""
