#define _GNU_SOURCE
#include "terminal.h"

#include <fcntl.h>
#include <pty.h>
#include <simavr/avr_uart.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

/* ATmega328P data sheet, register summary */
enum { UCSR0A = 0xC0, U2X0 = 1, UBRR0L = 0xC4, UBRR0H = 0xC5 };
enum { BITS_A_BYTE = 10 }; /* 8N1 */

bool terminal_open(struct terminal *terminal) {
    if (openpty(&terminal->device, &terminal->host, NULL, NULL, NULL) < 0)
        return false;
    struct termios raw;
    tcgetattr(terminal->host, &raw);
    cfmakeraw(&raw); /* before anything is written, or the board would hear itself */
    tcsetattr(terminal->host, TCSANOW, &raw);
    fcntl(terminal->device, F_SETFL, O_NONBLOCK);
    terminal->port = ttyname(terminal->host);
    return terminal->port != NULL;
}

static void board_said(avr_irq_t *irq, uint32_t byte, void *param) {
    (void)irq;
    struct terminal *terminal = param;
    terminal->spoke = true;
    if (terminal->waiting < HELD)
        terminal->out[terminal->waiting++] = (uint8_t)byte;
    else
        terminal->lost++;
}

/* One byte from the host at the pace of the line. */
static avr_cycle_count_t hear(avr_t *avr, avr_cycle_count_t when, void *param) {
    (void)avr;
    struct terminal *terminal = param;
    if (terminal->told < terminal->heard)
        avr_raise_irq(terminal->input, terminal->in[terminal->told++]);
    return when + terminal->byte_cycles;
}

void terminal_attach(struct terminal *terminal, avr_t *avr, long baud) {
    terminal->avr = avr;
    terminal->byte_cycles =
        (avr_cycle_count_t)avr->frequency * BITS_A_BYTE / (avr_cycle_count_t)baud;
    terminal->input = avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT),
                            board_said, terminal);
    avr_cycle_timer_register(avr, terminal->byte_cycles, hear, terminal);
    uint32_t flags = 0; /* neither print lines nor sleep when the firmware polls */
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
}

static bool deaf(const struct terminal *terminal) {
    return terminal->avr->cycle < terminal->deaf_s * terminal->avr->frequency;
}

void terminal_serve(struct terminal *terminal) {
    if (terminal->told == terminal->heard) {
        ssize_t got = read(terminal->device, terminal->in, sizeof terminal->in);
        terminal->told = 0;
        terminal->heard = got > 0 && !deaf(terminal) ? (int)got : 0;
    }
    ssize_t taken =
        terminal->waiting ? write(terminal->device, terminal->out, terminal->waiting) : 0;
    if (taken > 0) {
        terminal->waiting -= (int)taken;
        terminal->sent += taken;
        memmove(terminal->out, terminal->out + taken, terminal->waiting);
    }
}

double terminal_baud(const struct terminal *terminal) {
    const uint8_t *data = terminal->avr->data;
    int divisor = (data[UBRR0H] << 8 | data[UBRR0L]) + 1;
    return (double)terminal->avr->frequency / divisor / (data[UCSR0A] >> U2X0 & 1 ? 8 : 16);
}
