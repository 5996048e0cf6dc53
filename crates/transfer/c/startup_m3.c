/* startup_m3.c - from reset to the test program on the emulated Cortex-M3. */
#include <stdint.h>

#include "port.h"

extern uint32_t data_start;
extern uint32_t data_end;
extern uint32_t data_source;
extern uint32_t bss_start;
extern uint32_t bss_end;
extern uint32_t stack_top;

void start(void);
void stop(int status);
void fault(void);

void fault(void) {
    port_write("processor fault\n");
    stop(3);
}

void start(void) {
    uint32_t *from = &data_source;
    uint32_t *to;
    for (to = &data_start; to < &data_end; to++) {
        *to = *from;
        from++;
    }
    for (to = &bss_start; to < &bss_end; to++) {
        *to = 0u;
    }
    stop(check_vectors());
}

/* Stack pointer, reset, and the faults; no interrupts are used. */
typedef void (*handler)(void);

typedef struct {
    uint32_t *stack;
    handler handlers[15];
} vector_table;

__attribute__((section(".vectors"), used)) static const vector_table vectors = {
    &stack_top,
    {start, fault, fault, fault, fault, fault, 0, 0, 0, 0, fault, fault, 0, fault, fault},
};
