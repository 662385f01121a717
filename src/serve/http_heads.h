/* http_heads: whether the head of a call can be read in one way only. Inside src/serve/. */
#ifndef SERVE_HTTP_HEADS_H
#define SERVE_HTTP_HEADS_H

#include "serve/http.h"

/* http_heads_judge: sets a problem (400), and that the connection ends with it, when a header's name is no token or its value holds a
 * control character (RFC 9110, 5.1 and 5.5), or when Host, Content-Length or Transfer-Encoding stands there twice (RFC 9112, 3.2, 6.1
 * and 6.3): a proxy in front may have read such a call in another way. */
void http_heads_judge(struct http_call *c);

#endif
