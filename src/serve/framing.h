/* framing: what a call says of how much body it brings, and how that is cut off from what follows. Inside src/serve/. */
#ifndef SERVE_FRAMING_H
#define SERVE_FRAMING_H

#include "serve/http.h"

/* framing_size: the size that the call tells of its body; UINT64_MAX: told, but no number. *ret_told: whether it is told. */
uint64_t framing_size(const struct http_call *c, bool *ret_told);

/* framing_judge: sets a problem, and that the connection ends with it, when its head leaves a doubt (http_heads.h; RFC 9112, 6.1): another coding than chunked is not known, and a size beside it is
 * how calls are smuggled past a proxy. microhttpd would wait for such a body until time is up. */
void framing_judge(struct http_call *c);

#endif
