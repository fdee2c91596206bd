"""One trace becomes phases, measures and a verdict.

::

    effort        zero removed, gaps bridged, smoothed once
    hold          the longest run within the band about its own mean
    onset         where the force began to rise, and how sure that is
    preload       the level a limb rests on the pad with before the ramp
    phases        rest, ramp, hold, release
    measures      each number with its definition
    rules/        one function a fault
    verdict       all of it in order: `judge`
    judged_trial  a trial with its judgement, and whether it counts
    technique     what the rules saw of the examiner's way of working

Limits come from a protocol file (`protocol`), never from code. In comes a `Trial`; out comes a `Judgement`.
May import: acquire's values and settings files.
"""
