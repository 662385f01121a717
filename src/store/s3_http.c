/* s3_http: owns libcurl: one signed request to an object store, its time limits, and the connections that are kept between requests. */
#include "store/s3.h"

#include <curl/curl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <threads.h>
#include <time.h>

enum {
    IDLE_MAX = 8,
    CONNECT_S = 5,
    SLOW_BYTES_S = 1024, /* slower than this for wait_s is as good as stalled */
    WHOLE_WAITS = 30     /* of wait_s: the longest that one request may take */
};

struct s3_http {
    struct place_s3 at;
    struct s3_secret who;
    char sigv4[PLACE_REGION_MAX + 32];
    mtx_t lock; /* of what follows */
    CURL *idle[IDLE_MAX];
    size_t n_idle;
};

/* ---- making -------------------------------------------------------------------------------- */

static once_flag is_started = ONCE_FLAG_INIT;
static CURLcode start_code; /* written once, inside call_once */

static void start(void)
{
    start_code = curl_global_init(CURL_GLOBAL_DEFAULT);
}

enum err s3_http_new(const struct place_s3 *at, struct s3_http **ret, struct fault *reterr)
{
    call_once(&is_started, start);
    struct s3_http *h = start_code == CURLE_OK ? calloc(1, sizeof *h) : NULL;
    if (h == NULL)
        return fault_no_memory(reterr);
    if (mtx_init(&h->lock, mtx_plain) != thrd_success) {
        free(h);
        return fault_no_memory(reterr);
    }
    h->at = *at;
    snprintf(h->sigv4, sizeof h->sigv4, "aws:amz:%s:s3", at->region);
    const enum err err = s3_secret_find(&h->who, reterr);
    if (err == ERR_OK)
        *ret = h;
    else
        s3_http_free(h);
    return err;
}

void s3_http_free(struct s3_http *http)
{
    if (http == NULL)
        return;
    for (size_t i = 0; i < http->n_idle; i++)
        curl_easy_cleanup(http->idle[i]);
    mtx_destroy(&http->lock);
    s3_secret_wipe(&http->who);
    free(http);
}

/* A handle with the connection that it kept, or a new one. */
static CURL *take_handle(struct s3_http *h)
{
    CURL *curl = NULL;
    mtx_lock(&h->lock);
    if (h->n_idle > 0)
        curl = h->idle[--h->n_idle];
    mtx_unlock(&h->lock);
    return curl != NULL ? curl : curl_easy_init();
}

static void give_handle(struct s3_http *h, CURL *curl)
{
    curl_easy_reset(curl); /* forgets the key too; connections stay */
    mtx_lock(&h->lock);
    const bool is_kept = h->n_idle < IDLE_MAX;
    if (is_kept)
        h->idle[h->n_idle++] = curl;
    mtx_unlock(&h->lock);
    if (!is_kept)
        curl_easy_cleanup(curl);
}

/* ---- one request --------------------------------------------------------------------------- */

struct exchange {
    const struct s3_call *call;
    struct s3_answer *ret;
    struct text refusal, *to; /* where the body goes */
    size_t n_max, n_sent;
    CURL *curl;
    time_t server_s; /* -1: not told */
    char why[CURL_ERROR_SIZE];
};

enum { REFUSAL_MAX = 16 * 1024 };

static size_t send_body(char *to, size_t size, size_t n, void *me)
{
    struct exchange *x = me;
    const size_t left = x->call->n_body - x->n_sent, room = size * n;
    const size_t now = left < room ? left : room;
    memcpy(to, x->call->body + x->n_sent, now);
    x->n_sent += now;
    return now;
}

/* curl begins anew when a kept connection turns out to be closed. */
static int seek_body(void *me, curl_off_t at, int origin)
{
    struct exchange *x = me;
    if (origin != SEEK_SET || at < 0 || (uint64_t)at > x->call->n_body)
        return CURL_SEEKFUNC_FAIL;
    x->n_sent = (size_t)at;
    return CURL_SEEKFUNC_OK;
}

static size_t take_body(char *bytes, size_t size, size_t n, void *me)
{
    struct exchange *x = me;
    long status = 0;
    (void)size; /* 1, by curl's contract */
    curl_easy_getinfo(x->curl, CURLINFO_RESPONSE_CODE, &status);
    if (status != 200) { /* a refusal: as much as tells its code */
        const size_t room = REFUSAL_MAX - x->refusal.size;
        text_add(&x->refusal, bytes, n < room ? n : room);
        return n;
    }
    if (x->to == NULL)
        return n;
    if (n > x->n_max - x->to->size) {
        x->ret->is_large = true;
        return 0; /* ends it */
    }
    text_add(x->to, bytes, n);
    return x->to->is_broken ? 0 : n;
}

static size_t take_header(char *bytes, size_t size, size_t n, void *me)
{
    static const char name[] = "date:";
    struct exchange *x = me;
    char line[80];
    (void)size;
    if (n < sizeof name || n >= sizeof line)
        return n;
    memcpy(line, bytes, n);
    line[n] = '\0';
    for (size_t i = 0; i < sizeof name - 1; i++)
        if ((line[i] | 0x20) != name[i] && line[i] != name[i])
            return n;
    x->server_s = curl_getdate(line + sizeof name - 1, NULL);
    return n;
}

static void set_times(CURL *curl, const struct place_s3 *at)
{
    const long wait = at->wait_s;
    curl_easy_setopt(curl, CURLOPT_NOSIGNAL, 1L);
    curl_easy_setopt(curl, CURLOPT_CONNECTTIMEOUT, wait < CONNECT_S ? wait : CONNECT_S);
    curl_easy_setopt(curl, CURLOPT_LOW_SPEED_LIMIT, (long)SLOW_BYTES_S);
    curl_easy_setopt(curl, CURLOPT_LOW_SPEED_TIME, wait);
    curl_easy_setopt(curl, CURLOPT_TIMEOUT, wait * WHOLE_WAITS);
}

static void set_server(CURL *curl, const struct s3_http *h, const char *url)
{
    curl_easy_setopt(curl, CURLOPT_URL, url);
    curl_easy_setopt(curl, CURLOPT_PATH_AS_IS, 1L);
    curl_easy_setopt(curl, CURLOPT_PROTOCOLS_STR, "http,https");
    curl_easy_setopt(curl, CURLOPT_FOLLOWLOCATION,
                     0L); /* a signed request goes where it was meant */
    curl_easy_setopt(curl, CURLOPT_PROXY, "");
    curl_easy_setopt(curl, CURLOPT_HTTP_VERSION, CURL_HTTP_VERSION_1_1);
    curl_easy_setopt(curl, CURLOPT_SSL_VERIFYPEER, 1L);
    curl_easy_setopt(curl, CURLOPT_SSL_VERIFYHOST, 2L);
    curl_easy_setopt(curl, CURLOPT_SSLVERSION, CURL_SSLVERSION_TLSv1_2);
    if (h->at.ca[0] != '\0') { /* this authority alone, not the system's besides */
        curl_easy_setopt(curl, CURLOPT_CAINFO, h->at.ca);
        curl_easy_setopt(curl, CURLOPT_CAPATH, NULL);
    }
    curl_easy_setopt(curl, CURLOPT_AWS_SIGV4, h->sigv4);
    curl_easy_setopt(curl, CURLOPT_USERNAME, h->who.key);
    curl_easy_setopt(curl, CURLOPT_PASSWORD, h->who.secret);
}

static void set_call(CURL *curl, struct exchange *x)
{
    switch (x->call->method) {
    case S3_HEAD:
        curl_easy_setopt(curl, CURLOPT_NOBODY, 1L);
        break;
    case S3_PUT:
        curl_easy_setopt(curl, CURLOPT_UPLOAD, 1L);
        curl_easy_setopt(curl, CURLOPT_INFILESIZE_LARGE, (curl_off_t)x->call->n_body);
        curl_easy_setopt(curl, CURLOPT_READFUNCTION, send_body);
        curl_easy_setopt(curl, CURLOPT_READDATA, x);
        curl_easy_setopt(curl, CURLOPT_SEEKFUNCTION, seek_body);
        curl_easy_setopt(curl, CURLOPT_SEEKDATA, x);
        break;
    case S3_DELETE:
        curl_easy_setopt(curl, CURLOPT_CUSTOMREQUEST, "DELETE");
        break;
    case S3_GET:
        curl_easy_setopt(curl, CURLOPT_HTTPGET, 1L);
    }
    curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, take_body);
    curl_easy_setopt(curl, CURLOPT_WRITEDATA, x);
    curl_easy_setopt(curl, CURLOPT_HEADERFUNCTION, take_header);
    curl_easy_setopt(curl, CURLOPT_HEADERDATA, x);
    curl_easy_setopt(curl, CURLOPT_ERRORBUFFER, x->why);
}

/* What is signed besides host and time: the digest of the body, and its type. */
static struct curl_slist *make_headers(const struct s3_call *call)
{
    static const char nothing[] = /* SHA-256 of no bytes, FIPS 180-4 */
        "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
    char line[128];
    snprintf(line, sizeof line, "x-amz-content-sha256: %s",
             call->sha256 != NULL ? call->sha256 : nothing);
    struct curl_slist *list = curl_slist_append(NULL, line);
    if (list == NULL || call->type == NULL)
        return list;
    snprintf(line, sizeof line, "Content-Type: %s", call->type);
    struct curl_slist *more = curl_slist_append(list, line);
    if (more == NULL)
        curl_slist_free_all(list);
    return more;
}

static bool may_pass(CURLcode code)
{
    switch (code) {
    case CURLE_COULDNT_RESOLVE_HOST:
    case CURLE_COULDNT_CONNECT:
    case CURLE_OPERATION_TIMEDOUT:
    case CURLE_SEND_ERROR:
    case CURLE_RECV_ERROR:
    case CURLE_GOT_NOTHING:
    case CURLE_PARTIAL_FILE:
    case CURLE_SSL_CONNECT_ERROR:
        return true;
    default:
        return false;
    }
}

static enum err say(const struct s3_http *h, const struct exchange *x, CURLcode code,
                    struct fault *f)
{
    const char *at = h->at.endpoint;
    switch (code) {
    case CURLE_OUT_OF_MEMORY:
        return fault_no_memory(f);
    case CURLE_PEER_FAILED_VERIFICATION:
    case CURLE_SSL_CACERT_BADFILE:
        return fault_set(f, ERR_IO,
                         "the certificate of the object store at %.200s is not to be trusted: "
                         "%.100s; s3_ca=FILE names the authority that signs it",
                         at, x->why);
    case CURLE_OPERATION_TIMEDOUT:
        return fault_set(f, ERR_IO, "the object store at %.200s does not answer in time", at);
    case CURLE_PARTIAL_FILE:
        return fault_set(f, ERR_IO, "the object store at %.200s broke off in the middle", at);
    default:
        return fault_set(f, ERR_IO, "the object store at %.200s cannot be reached: %.150s", at,
                         x->why[0] != '\0' ? x->why : curl_easy_strerror(code));
    }
}

static enum err finish(const struct s3_http *h, struct exchange *x, CURLcode code, struct fault *f)
{
    struct s3_answer *ret = x->ret;
    long status = 0;
    curl_off_t bytes = -1;
    curl_easy_getinfo(x->curl, CURLINFO_RESPONSE_CODE, &status);
    curl_easy_getinfo(x->curl, CURLINFO_CONTENT_LENGTH_DOWNLOAD_T, &bytes);
    ret->bytes = bytes;
    ret->has_skew = x->server_s != (time_t)-1;
    ret->skew_s = ret->has_skew ? (int64_t)(time(NULL) - x->server_s) : 0;
    if ((x->to != NULL && x->to->is_broken) || x->refusal.is_broken)
        return fault_no_memory(f);
    if (code != CURLE_OK && !ret->is_large) {
        ret->may_pass = may_pass(code);
        return say(h, x, code, f);
    }
    ret->status = (int)status;
    ret->may_pass = status >= 500 || status == 429 || status == 408;
    if (x->refusal.size > 0)
        s3_code(x->refusal.data, x->refusal.size, ret->code);
    return ERR_OK;
}

enum err s3_http_call(struct s3_http *http, const struct s3_call *call, struct s3_answer *ret,
                      struct fault *reterr)
{
    char url[PLACE_ENDPOINT_MAX + S3_PATH_MAX + 4 * S3_TOKEN_MAX];
    struct exchange x = {
        .call = call, .ret = ret, .to = call->answer, .n_max = call->answer_max, .server_s = -1};
    *ret = (struct s3_answer){.bytes = -1};
    if (call->answer != NULL)
        text_clear(call->answer);
    snprintf(url, sizeof url, "%s%s%s%s", http->at.endpoint, call->path,
             call->query != NULL ? "?" : "", call->query != NULL ? call->query : "");
    struct curl_slist *headers = make_headers(call);
    x.curl = headers != NULL ? take_handle(http) : NULL;
    if (x.curl == NULL) {
        curl_slist_free_all(headers);
        return fault_no_memory(reterr);
    }
    set_times(x.curl, &http->at);
    set_server(x.curl, http, url);
    set_call(x.curl, &x);
    curl_easy_setopt(x.curl, CURLOPT_HTTPHEADER, headers);
    const enum err err = finish(http, &x, curl_easy_perform(x.curl), reterr);
    give_handle(http, x.curl);
    curl_slist_free_all(headers);
    text_done(&x.refusal);
    return err;
}
