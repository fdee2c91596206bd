#include "converter.h"

#include <math.h>
#include <simavr/avr_ioport.h>
#include <simavr/sim_time.h>
#include <stdlib.h>

enum { DOUT = 0, SCK = 1, RATE = 2 }; /* of port B */
enum { BITS = 24, READ_PULSES = 25, FILTER_PERIODS = 4, SETTLING = 4, OFF_US = 60 };
#define LIMIT 8388608.0

/* ---- the trace ---- */

bool trace_read(struct trace *trace, const char *path, double rate_hz) {
    FILE *file = fopen(path, "r");
    if (!file)
        return false;
    long room = 1024;
    *trace = (struct trace){.rate_hz = rate_hz, .sum = calloc(room, sizeof(double))};
    for (double count; fscanf(file, "%lf", &count) == 1; trace->n++) {
        if (trace->n + 2 > room)
            trace->sum = realloc(trace->sum, (room *= 2) * sizeof(double));
        trace->sum[trace->n + 1] = trace->sum[trace->n] + count;
    }
    bool whole = feof(file) && trace->n > 0;
    fclose(file);
    return whole;
}

/* The integral of the trace up to `seconds`, in counts times samples. */
static double integral(const struct trace *trace, double seconds) {
    double at = seconds * trace->rate_hz;
    long whole = at < 0 ? 0 : at >= trace->n ? trace->n - 1 : (long)at;
    return trace->sum[whole] + (at - whole) * (trace->sum[whole + 1] - trace->sum[whole]);
}

static double mean(const struct trace *trace, double from, double to) {
    return (integral(trace, to) - integral(trace, from)) / ((to - from) * trace->rate_hz);
}

/* ---- noise: the same at every run ---- */

static double uniform(struct converter *converter) {
    converter->chance ^= converter->chance << 13; /* xorshift64, Marsaglia 2003 */
    converter->chance ^= converter->chance >> 7;
    converter->chance ^= converter->chance << 17;
    return (double)(converter->chance >> 11) / 9007199254740992.0;
}

static double normal(struct converter *converter) {
    double sum = -6.0; /* of twelve uniform numbers: as good as normal within three deviations */
    for (int i = 0; i < 12; i++)
        sum += uniform(converter);
    return sum;
}

/* ---- conversions ---- */

static double seconds(const struct converter *converter) {
    if (!converter->playing)
        return 0.0;
    return (double)(converter->avr->cycle - converter->began) / converter->avr->frequency;
}

static double period_s(const struct converter *converter) {
    return 1.0 / ((converter->fast ? 80.0 : 10.0) * (1.0 + converter->rate_error));
}

static int32_t measured(struct converter *converter) {
    double now = seconds(converter), from = now - FILTER_PERIODS * period_s(converter);
    double counts = mean(&converter->trace, from, now);
    counts = rint(counts + converter->noise_counts * normal(converter));
    return (int32_t)fmin(fmax(counts, -LIMIT), LIMIT - 1.0);
}

static avr_cycle_count_t convert(avr_t *avr, avr_cycle_count_t when, void *param) {
    struct converter *converter = param;
    if (!converter->on)
        return 0;
    avr_cycle_count_t next = when + (avr_cycle_count_t)(period_s(converter) * avr->frequency);
    if (converter->settling) {
        converter->settling--;
        return next;
    }
    converter->missed += converter->pulses == 0;
    converter->bad_reads += converter->pulses != 0 && converter->pulses != READ_PULSES;
    converter->pulses = 0;
    converter->count = measured(converter);
    if (converter->log)
        fprintf(converter->log, "%llu %d %.9f\n", (unsigned long long)when, converter->count,
                seconds(converter));
    avr_raise_irq(converter->dout, 1);
    avr_raise_irq(converter->dout, 0);
    return next;
}

static void switch_on(struct converter *converter) {
    converter->on = true;
    converter->settling = SETTLING;
    converter->pulses = READ_PULSES; /* nothing waits to be read */
    avr_raise_irq(converter->dout, 1);
    avr_cycle_timer_register(converter->avr,
                             (avr_cycle_count_t)(period_s(converter) * converter->avr->frequency),
                             convert, converter);
}

static avr_cycle_count_t switch_off(avr_t *avr, avr_cycle_count_t when, void *param) {
    (void)avr, (void)when;
    struct converter *converter = param;
    converter->on = false;
    avr_raise_irq(converter->dout, 1);
    return 0;
}

/* ---- its pins ---- */

static void sck_moved(avr_irq_t *irq, uint32_t level, void *param) {
    struct converter *converter = param;
    if (level == irq->value)
        return;
    if (!level) {
        avr_cycle_timer_cancel(converter->avr, switch_off, converter);
        if (!converter->on)
            switch_on(converter);
        return;
    }
    avr_cycle_timer_register_usec(converter->avr, OFF_US, switch_off, converter);
    int bit = converter->pulses++;
    avr_raise_irq(converter->dout, bit < BITS ? converter->count >> (BITS - 1 - bit) & 1 : 1);
}

static void rate_moved(avr_irq_t *irq, uint32_t level, void *param) {
    (void)irq;
    ((struct converter *)param)->fast = level;
}

static avr_irq_t *pin(avr_t *avr, int number) {
    return avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('B'), number);
}

void converter_attach(struct converter *converter, avr_t *avr) {
    converter->avr = avr;
    converter->chance = 88172645463325252ULL;
    converter->dout = pin(avr, DOUT);
    avr_irq_register_notify(pin(avr, SCK), sck_moved, converter);
    avr_irq_register_notify(pin(avr, RATE), rate_moved, converter);
    switch_on(converter);
}

void converter_play(struct converter *converter) {
    if (!converter->avr || converter->playing)
        return;
    converter->playing = true;
    converter->began = converter->avr->cycle;
}

bool converter_done(const struct converter *converter) {
    if (!converter->playing)
        return false;
    double end = converter->trace.n / converter->trace.rate_hz;
    return seconds(converter) > end + (FILTER_PERIODS + 1) * period_s(converter);
}
