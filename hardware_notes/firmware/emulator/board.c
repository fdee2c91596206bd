/* The sensor of firmware/avr as a program: its firmware, run by simavr, with a converter and a
 * serial line.
 *
 *     board FIRMWARE.elf TRACE.txt [--trace-rate HZ] [--speed X] [--noise COUNTS] [--rate-error
 * PART]
 *           [--baud N] [--boot S] [--no-converter] [--log FILE]
 *
 * TRACE.txt is what the cell feels, in counts, one number after the other at --trace-rate. Printed
 * on standard output, line by line: the port to open; `done BYTES LOST` when the trace has been
 * played and all was handed over; the emulation then stands still. It ends when its standard input
 * does. */
#include <getopt.h>
#include <math.h>
#include <poll.h>
#include <simavr/sim_elf.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "converter.h"
#include "terminal.h"

#define SLICE_S 0.001 /* of host time between looks at the line */
#define SLICE_MOST                                                                                 \
    0.05 /* of device time in one slice: what cannot be kept up with is not caught up with */
#define BAUD_ERROR 0.02

static struct converter converter;
static struct terminal terminal;

static int fail(const char *format, ...) {
    va_list arguments;
    va_start(arguments, format);
    vfprintf(stderr, format, arguments);
    fputc('\n', stderr);
    va_end(arguments);
    return 1;
}

static double now_s(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec + now.tv_nsec * 1e-9;
}

static void say_nothing(avr_t *avr, const int level, const char *format, va_list arguments) {
    (void)avr;
    if (level <= LOG_ERROR)
        vfprintf(stderr, format, arguments);
}

/* Time is kept by `run`; the chip's sleep costs nothing. */
static void do_not_sleep(avr_t *avr, avr_cycle_count_t cycles) {
    (void)avr, (void)cycles;
}

static avr_t *made(const char *path) {
    elf_firmware_t firmware = {0};
    avr_global_logger_set(say_nothing);
    if (elf_read_firmware(path, &firmware))
        return NULL;
    avr_t *avr = avr_make_mcu_by_name("atmega328p");
    if (!avr || avr_init(avr))
        return NULL;
    firmware.frequency = 16000000;
    avr_load_firmware(avr, &firmware);
    avr->sleep = do_not_sleep;
    return avr;
}

/* Run the chip up to a cycle; false when it has stopped for good. */
static bool run_to(avr_t *avr, avr_cycle_count_t cycle) {
    while (avr->cycle < cycle) {
        int state = avr_run(avr);
        if (state == cpu_Done || state == cpu_Crashed)
            return false;
    }
    return true;
}

/* Wait a slice, or until the host has something to say; false when standard input has ended. */
static bool wait_slice(double seconds) {
    struct pollfd files[] = {{STDIN_FILENO, POLLIN, 0}, {terminal.device, POLLIN, 0}};
    poll(files, 2, (int)ceil(seconds * 1000.0));
    char ignored[256];
    return !(files[0].revents & (POLLIN | POLLHUP)) ||
           read(STDIN_FILENO, ignored, sizeof ignored) > 0;
}

static bool baud_fits(long baud) {
    return fabs(terminal_baud(&terminal) / baud - 1.0) < BAUD_ERROR;
}

static int run(avr_t *avr, double speed, long baud) {
    double last = now_s(), cycle = 0.0;
    for (bool done = false;;) {
        double now = now_s();
        if (!done) {
            cycle += fmin((now - last) * speed, SLICE_MOST) * avr->frequency;
            if (!run_to(avr, (avr_cycle_count_t)cycle))
                return fail("the firmware stopped at cycle %llu", (unsigned long long)avr->cycle);
        }
        last = now;
        if (terminal.spoke && !converter.playing) {
            if (!baud_fits(baud))
                return fail("the firmware speaks at %.0f bit/s, not at %ld",
                            terminal_baud(&terminal), baud);
            converter_play(&converter);
        }
        terminal_serve(&terminal);
        if (!done && converter_done(&converter) && !terminal.waiting) {
            done = true;
            printf("done %ld %ld\n", terminal.sent, terminal.lost + converter.missed);
            if (converter.bad_reads)
                return fail("the converter was read in a wrong way %ld times", converter.bad_reads);
        }
        if (!wait_slice(done ? 1.0 : SLICE_S))
            return 0;
    }
}

int main(int count, char **words) {
    enum { TRACE_RATE, SPEED, NOISE, RATE_ERROR, BAUD, BOOT, NO_CONVERTER, LOG };
    const struct option known[] = {
        {"trace-rate", 1, NULL, TRACE_RATE},
        {"speed", 1, NULL, SPEED},
        {"noise", 1, NULL, NOISE},
        {"rate-error", 1, NULL, RATE_ERROR},
        {"baud", 1, NULL, BAUD},
        {"log", 1, NULL, LOG},
        {"boot", 1, NULL, BOOT},
        {"no-converter", 0, NULL, NO_CONVERTER},
        {NULL, 0, NULL, 0},
    };
    double trace_rate = 1000.0, speed = 1.0;
    long baud = 38400;
    bool plugged = true;
    for (int option; (option = getopt_long(count, words, "", known, NULL)) >= 0;)
        switch (option) {
        case TRACE_RATE:
            trace_rate = atof(optarg);
            break;
        case SPEED:
            speed = atof(optarg);
            break;
        case NOISE:
            converter.noise_counts = atof(optarg);
            break;
        case RATE_ERROR:
            converter.rate_error = atof(optarg);
            break;
        case BAUD:
            baud = atol(optarg);
            break;
        case BOOT:
            terminal.deaf_s = atof(optarg);
            break;
        case NO_CONVERTER:
            plugged = false;
            break;
        case LOG:
            if (!(converter.log = fopen(optarg, "w")))
                return fail("%s: cannot be written", optarg);
            break;
        default:
            return 2;
        }
    if (count - optind != 2 || trace_rate <= 0.0 || speed <= 0.0 || baud <= 0)
        return fail("say which firmware and which trace, and only numbers above 0"), 2;
    if (!trace_read(&converter.trace, words[optind + 1], trace_rate))
        return fail("%s: is not a file of numbers", words[optind + 1]);
    avr_t *avr = made(words[optind]);
    if (!avr)
        return fail("%s: cannot be run", words[optind]);
    if (!terminal_open(&terminal))
        return fail("there is no pseudo-terminal to be had");
    setvbuf(stdout, NULL, _IOLBF, 0);
    if (plugged)
        converter_attach(&converter, avr);
    terminal_attach(&terminal, avr, baud);
    printf("%s\n", terminal.port);
    return run(avr, speed, baud);
}
