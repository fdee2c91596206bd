"""When each sample was taken.

What happens to the samples of a chunk, in this order::

    decoder            bytes -> packets or lines
       |
    sequence_gaps      by number and clock: what follows, what was lost, what came late, twice or damaged
       |
    timebase           seconds of each sample; a gap stays a gap. `selection` picks one of three kinds:
       |                  ClockTimeBase     the sensor's own clock, unwrapped (device_clock)
       |                  CounterTimeBase   counter / nominal rate
       |                  IndexTimeBase     index / nominal rate
       |               each notes its arrivals, for
       |                  segments          unbroken stretches between restarts and pauses; in each of them
       |                  clock_skew        the skew line: the sensor's true rate by the computer's clock
       |
    ring, trial detector
       |
    a trial            timebase.refine: nominal seconds -> seconds by the skew line
                       clock_skew.HostTime: its seconds on this computer's clock, for a second sensor or a program

In come decoded samples with their time of arrival; out come seconds. No I/O, no clock is read. Others use
`SequenceGaps`, `time_base_for` and `HostTime`. May import: values, sensor, decoders.
"""
