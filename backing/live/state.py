"""What other programs are told: one line of JSON a bar."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from backing.harmony.chord import chord_text
from backing.notes import Player

if TYPE_CHECKING:
    from backing.live.source import LiveBar
    from backing.live.transport import Transport


def state_line(transport: Transport, bar: LiveBar | None) -> str:
    """Return the state of a transport in a bar as one line of JSON."""
    return json.dumps(state_of(transport, bar), ensure_ascii=False)


def state_of(transport: Transport, bar: LiveBar | None) -> dict[str, Any]:
    """Return the state of a transport in a bar, for JSON.

    Keys: `playing`, `ended`, `part` ("A 2" is the second A of the form), `bar` and `bars` (counted
    from 1), `chorus` (which time round the form), `round` (which time round the loop, or null),
    `chords`, `key`, `tempo` and `tempo_unit` (a number, and the note that it and every bare number
    of the chart counts), `quarter_bpm` (the same in quarter notes a minute), `tempo_wished` (the
    tune's, which commands change; other than `tempo` in a part with its own and in a ritard),
    `meter`, `style`, `plays`, `level` (percent), `loop` (bars counted from 1, or null),
    `last_time`, `late_ms` (the latest of the last messages).
    """
    settings = transport.settings
    loop = settings.loop_in(settings.chart)
    late = max(transport.lateness.last, default=0.0)
    return {
        "playing": transport.playing,
        "ended": transport.ended,
        "part": bar.label if bar else None,
        "bar": bar.index + 1 if bar else None,
        "bars": bar.length if bar else None,
        "chorus": bar.chorus if bar else None,
        "round": transport.progress.at(bar.position).loop_round if bar and settings.loop else None,
        "chords": [chord_text(chord) for _, chord in bar.chords] if bar else [],
        "key": str(bar.key) if bar else None,
        "tempo": settings.chart.counted(transport.bpm, 2).bpm,
        "tempo_unit": settings.chart.tempo_unit,
        "tempo_wished": settings.chart.counted(settings.bpm).bpm,
        "quarter_bpm": round(transport.bpm, 2),
        "meter": str(bar.meter) if bar else None,
        "style": bar.style.name if bar else None,
        "plays": [
            player for player in Player if settings.plays(player, bar.style if bar else None)
        ],
        "level": settings.level,
        "loop": [loop[0] + 1, loop[1] + 1] if loop else None,
        "last_time": settings.last_time,
        "late_ms": round(late * 1000, 2),
    }
