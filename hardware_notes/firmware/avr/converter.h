/* The bridge converter (24 bits, two wires, 10 or 80 conversions a second) and the clock.
 *
 *     board pin   chip pin     converter
 *     8           PB0, ICP1    DOUT   low: a conversion has ended; then its bits, highest first
 *     9           PB1          SCK    each rising edge brings the next bit
 *     10          PB2          RATE   low: 10, high: 80 a second
 *
 * DOUT must be on pin 8: there the chip itself notes the time of the falling edge, to half a
 * microsecond and whatever the program is doing. */
#ifndef CONVERTER_H
#define CONVERTER_H

#include <stdbool.h>
#include <stdint.h>

void converter_begin(void);

/* 10 or 80 conversions a second. */
void converter_set_rate(uint8_t rate_hz);

/* Whether a conversion has ended that was not read yet. */
bool converter_ready(void);

/* Whether none has ended for more than a second: it is off, or a wire is. */
bool converter_silent(void);

/* Reads it: the count, and when the conversion ended, in microseconds, which turn over at 2^32. */
int32_t converter_read(uint32_t *tick_us);

#endif
