/* policy: owns the content policies of the pages. */
#include "serve/http.h"

#define POLICY                                                                                     \
    "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; "                 \
    "img-src 'self' blob: data:; font-src 'self'; connect-src 'self'; media-src 'self' blob:; "    \
    "worker-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; "

const char http_policy[] = POLICY "frame-ancestors 'none'";
/* The Desk shows the Bench in a frame, beside the draft of a bulletin; nobody else may. */
const char http_policy_framing[] = POLICY "frame-src 'self'; frame-ancestors 'none'";
const char http_policy_framed[] = POLICY "frame-ancestors 'self'";
