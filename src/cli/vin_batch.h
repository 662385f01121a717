/* vin_batch: judges a file of VINs, one a line, of any size, in bounded memory. */
#ifndef CLI_VIN_BATCH_H
#define CLI_VIN_BATCH_H

#include "cli/cli.h"
#include "cli/vin_words.h"

/* vin_batch: path "-" is standard input. Faulty lines (with --json every line) go to standard
 * output as they are found, a summary comes last. Takes LF and CRLF, a byte order mark, empty lines
 * (passed over and counted), a last line without end. Shows progress on standard error when that is
 * a terminal and a second has passed. known may be NULL. Returns the exit code: CLI_NO when a line
 * is faulty; CLI_WRONG for what is no text file or holds no VIN; CLI_FAILED when reading or writing
 * breaks off. */
int vin_batch(struct cli *ctx, const char *path, const struct vin_list *known);

#endif
