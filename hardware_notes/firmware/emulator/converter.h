/* A bridge converter as the firmware sees it: 24 bits, two wires, 10 or 80 conversions a second.
 *
 * It measures a trace of counts. Each conversion is the mean of the last four periods (so a step
 * has settled after four conversions, and what it says is two conversions old), with white noise,
 * cut to 24 bits. From then on DOUT is low until the first bit is asked for. SCK high for 60 us
 * switches it off, and after that it settles for four conversions before it says anything. */
#ifndef CONVERTER_H
#define CONVERTER_H

#include <simavr/sim_avr.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

struct trace {
    double rate_hz;
    long n;
    double *sum; /* of the counts before each, n + 1 of them */
};

struct converter {
    /* chosen before `converter_attach` */
    struct trace trace;
    double noise_counts;
    double rate_error; /* of its oscillator, as a part of its rate */
    FILE *log;         /* a line for each conversion: cycle, count, second of the trace; or none */

    /* seen */
    long missed;    /* conversions that nobody read */
    long bad_reads; /* reads of other than 25 bits */

    /* its own */
    avr_t *avr;
    avr_irq_t *dout;
    bool fast, on, playing;
    avr_cycle_count_t began; /* when the trace did */
    int settling, pulses;
    int32_t count;
    uint64_t chance;
};

bool trace_read(struct trace *trace, const char *path, double rate_hz);

void converter_attach(struct converter *converter, avr_t *avr);

/* Begin to play the trace; until then it is at its first count, and after its end at its last. */
void converter_play(struct converter *converter);

/* Whether the trace has been played to its end, and converted. */
bool converter_done(const struct converter *converter);

#endif
