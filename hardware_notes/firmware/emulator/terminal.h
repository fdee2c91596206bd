/* The board's serial line on a pseudo-terminal, which the host opens like any serial port. */
#ifndef TERMINAL_H
#define TERMINAL_H

#include <simavr/sim_avr.h>
#include <stdbool.h>
#include <stdint.h>

enum { HELD = 1 << 16 }; /* bytes that wait while nobody reads; then the line's bytes are lost */

struct terminal {
    int device; /* our end */
    int host;   /* the other, kept open so that it may be closed and opened again */
    const char *port;
    avr_t *avr;
    avr_irq_t *input;
    avr_cycle_count_t byte_cycles;
    long sent, lost;
    int waiting, heard, told;
    double deaf_s; /* what the host says before is lost */
    bool spoke;
    uint8_t out[HELD], in[256];
};

bool terminal_open(struct terminal *terminal);

/* Connect it to the board's serial line, which the host thinks to run at `baud`. */
void terminal_attach(struct terminal *terminal, avr_t *avr, long baud);

/* Take what the host has sent and hand over what waits for it. */
void terminal_serve(struct terminal *terminal);

/* The baud rate that the firmware has set, bit/s. */
double terminal_baud(const struct terminal *terminal);

#endif
