/* Frames as wire_formats.md specifies them. No hardware here: this runs anywhere. */
#ifndef WIRE_H
#define WIRE_H

#include <stdint.h>

enum {
    WIRE_COUNT_BYTES = 3, /* a count of a 24-bit converter */
    WIRE_COUNTS_MAX = 8,  /* counts in one packet */
    WIRE_FRAME_MAX = 40,  /* the longest frame of any kind, delimiter included */
    WIRE_REMARK_MAX = 20, /* a remark fits the smallest radio notification */
};

/* Each writes one frame to `out`, which holds WIRE_FRAME_MAX bytes, and returns its length. */
uint8_t wire_line(uint8_t *out, uint32_t tick_us, int32_t count);
uint8_t wire_packet(uint8_t *out, uint16_t sequence, uint32_t tick_us, const int32_t *counts,
                    uint8_t n);
uint8_t wire_remark_line(uint8_t *out, const char *text);
uint8_t wire_remark_packet(uint8_t *out, const char *text);

uint16_t wire_checksum(const uint8_t *data, uint8_t length);

#endif
