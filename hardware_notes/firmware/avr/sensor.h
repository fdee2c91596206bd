/* What the sensor does: it obeys commands and makes frames of samples. It touches no register. */
#ifndef SENSOR_H
#define SENSOR_H

#include <stdint.h>

/* A byte from the host; a command ends with a line feed. */
void sensor_hear(char byte);

/* A conversion that ended at `tick_us`. */
void sensor_sample(uint32_t tick_us, int32_t count);

#endif
