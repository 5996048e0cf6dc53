/* method.h - what method.c holds: one approved revision, written by `stillwell transfer`.
 *
 * method.c is generated and never edited: each double stands in it as an exact hexadecimal number. The hash of the revision
 * stands in its first comment and in the data; the checksum over all of them is verified each time a scan begins.
 */
#ifndef STW_METHOD_H
#define STW_METHOD_H

#include "kernel.h"

extern const stw_method stw_this_method;

#endif
