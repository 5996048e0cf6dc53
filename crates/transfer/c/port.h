/* port.h - what the test program asks of the machine that it runs on. */
#ifndef STW_PORT_H
#define STW_PORT_H

#include <stdint.h>

/* The vector file, read from its beginning: returns how many bytes came. */
uint32_t port_read(void *to, uint32_t n);
void port_write(const char *text);
/* Counts up while instructions run; port_ticks_per_instruction_x1000 tells how, 0: unknown. */
uint32_t port_ticks(void);
uint32_t port_ticks_per_1000_instructions(void);
/* Paints the free stack, and counts the bytes that calls of the same function used since; 0 where it cannot be seen. */
void port_paint_stack(void);
uint32_t port_stack_used(void);

/* check.c; 0: every word as expected. */
int check_vectors(void);

#endif
