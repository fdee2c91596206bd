"""When each sample was taken.

The order in which the samples of a chunk pass::

    decoder
       |
    sequence_gaps   by counter and device clock: what follows, what was lost, what came late, twice or damaged
       |
    timebase        seconds for each sample; a gap stays a gap. Three kinds, of which `selection` picks one:
       |              by clock      device_clock: the sensor's own clock, unwrapped, and its sample period
       |              by counter    counter / nominal rate
       |              by index      index / nominal rate
       |            each notes its arrivals in
       |              segments      unbroken stretches between restarts and pauses, and in each
       |              clock_skew    the least-delay line: the sensor's true rate against the computer's clock
       |
    ring, trial detector    and, for a trial: timebase.refine, from nominal seconds to the computer's clock
       |
    host_time       when a sample was on the computer's clock, for two sensors and for other programs

In come decoded samples with their time of arrival; out come seconds. No I/O, no clock is read. The doors are
`SequenceGaps`, `time_base_for` and `HostTime`. May import: values, sensor, decoders.
"""
