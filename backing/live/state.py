"""The state for other programs, as one line of JSON for each bar."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from backing.harmony.chord import chord_text
from backing.notes import Player

if TYPE_CHECKING:
    from backing.live.source import LiveBar
    from backing.live.transport import Transport


def state_line(transport: Transport, bar: LiveBar | None) -> str:
    """Return the state in a bar as one line of JSON."""
    import json  # most takes print no JSON

    return json.dumps(state_of(transport, bar), ensure_ascii=False)


def state_of(transport: Transport, bar: LiveBar | None) -> dict[str, Any]:
    """Return the state in a bar as a JSON object.

    Keys: `playing`, `ended`, `part` ("A 2" is the second A of the form), `bar` and `bars` (counted
    from 1), `chorus` (of the form), `round` (of the loop, or null), `chords`, `key`, `tempo` and
    `tempo_unit` (a number and the note that it counts), `quarter_bpm` (the same in quarter notes a
    minute), `tempo_wished` (the tempo of the tune, as set by commands; differs from `tempo` in a
    ritard and in a part with a tempo of its own), `meter`, `style`, `plays`, `level` (percent),
    `loop` (first and last bar from 1, or null), `last_time`, `late_ms` (the maximum of the last
    notes).
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
