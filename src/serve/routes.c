/* routes: owns the table of paths. doc/openapi.json says the same in the open format; a test compares the two. */
#include "serve/route.h"

#include "desk/bring.h"
#include "serve/api.h"

enum {
    SMALL = 4 * 1024,
    SETTLE = 64 * 1024,      /* CLERK_SETTLE_MAX claims with their tags */
    DRAFT = 2 * 1024 * 1024, /* DRAWER_DRAFT_MAX and its escapes */
    RESULT = 256 * 1024,     /* SCHOOL_BODY_MAX */
    EVENTS = 512 * 1024,     /* of an open job, at once */
    STUDY = 512 * 1024,      /* STUDY_ASK_ROWS_MAX and its escapes */
    PHOTO = 8 * 1024 * 1024  /* JOBS_PHOTO_MAX */
};

const struct route routes[] = {
    {"GET", "/health", SIGNIN_NOBODY, ROUTE_NO_BODY, 0, api_health},
    {"GET", "/metrics", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_metrics},
    {"GET", "/enter/{link}", SIGNIN_NOBODY, ROUTE_NO_BODY, 0, api_enter_page},
    {"GET", "/api/v1/openapi.json", SIGNIN_NOBODY, ROUTE_NO_BODY, 0, api_openapi},
    {"GET", "/api/v1/session", SIGNIN_NOBODY, ROUTE_NO_BODY, 0, api_session_get},
    {"POST", "/api/v1/session", SIGNIN_NOBODY, ROUTE_JSON, SMALL, api_session_post},
    {"DELETE", "/api/v1/session", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0, api_session_delete},
    {"PUT", "/api/v1/session/password", SIGNIN_TECHNICIAN, ROUTE_JSON, SMALL, api_password_put},
    {"GET", "/api/v1/bulletins", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0, api_bulletins},
    {"GET", "/api/v1/bulletins/reference", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0, api_reference},
    {"GET", "/api/v1/bulletins/{bulletin}/{revision}", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0,
     api_bulletin},
    {"GET", "/api/v1/bulletins/{bulletin}/{revision}/file", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0,
     api_bulletin_file},
    {"GET", "/api/v1/bulletins/{bulletin}/{revision}/pictures/{picture}", SIGNIN_TECHNICIAN,
     ROUTE_NO_BODY, 0, api_picture},
    {"GET", "/api/v1/bulletins/{bulletin}/{revision}/cards.pdf", SIGNIN_TECHNICIAN, ROUTE_NO_BODY,
     0, api_cards},
    {"GET", "/api/v1/bulletins/{bulletin}/{revision}/crib.pdf", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0,
     api_crib},
    {"POST", "/api/v1/bulletins", SIGNIN_OWNER, ROUTE_JSON, DRAFT, api_bulletin_post},
    {"POST", "/api/v1/bulletins/check", SIGNIN_OWNER, ROUTE_JSON, DRAFT, api_bulletin_check},
    {"POST", "/api/v1/bulletins/sheet", SIGNIN_OWNER, ROUTE_JSON, DRAFT, api_bulletin_sheet},
    {"POST", "/api/v1/bulletins/what-if", SIGNIN_OWNER, ROUTE_JSON, DRAFT, api_bulletin_whatif},
    {"GET", "/api/v1/drafts", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_drafts},
    {"GET", "/api/v1/drafts/{draft}", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_draft_get},
    {"PUT", "/api/v1/drafts/{draft}", SIGNIN_OWNER, ROUTE_JSON, DRAFT, api_draft_put},
    {"DELETE", "/api/v1/drafts/{draft}", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_draft_delete},
    {"GET", "/api/v1/tasks/{task}", SIGNIN_CLERK, ROUTE_NO_BODY, 0, api_task_get},
    {"DELETE", "/api/v1/tasks/{task}", SIGNIN_CLERK, ROUTE_NO_BODY, 0, api_task_delete},
    {"GET", "/api/v1/bags/{sha256}", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0, api_bag_get},
    {"PUT", "/api/v1/bags/{sha256}", SIGNIN_TECHNICIAN, ROUTE_FILE, 0, api_bag_put},
    {"GET", "/api/v1/claims", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0, api_claims},
    {"POST", "/api/v1/rulings", SIGNIN_CLERK, ROUTE_JSON, SMALL, api_rulings_post},
    {"POST", "/api/v1/payments", SIGNIN_CLERK, ROUTE_JSON, SETTLE, api_settle_post},
    {"GET", "/api/v1/claims/{claim}", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0, api_claim},
    {"GET", "/api/v1/claims/{claim}/events", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0, api_claim_events},
    {"GET", "/api/v1/claims/{claim}/letter", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0, api_letter},
    {"POST", "/api/v1/claims/{claim}/ruling", SIGNIN_CLERK, ROUTE_JSON, SMALL, api_ruling_post},
    {"DELETE", "/api/v1/claims/{claim}/ruling", SIGNIN_CLERK, ROUTE_NO_BODY, 0, api_ruling_delete},
    {"POST", "/api/v1/claims/{claim}/payment", SIGNIN_CLERK, ROUTE_NO_BODY, 0, api_payment_post},
    {"POST", "/api/v1/claims/{claim}/note", SIGNIN_CLERK, ROUTE_JSON, SMALL, api_note_post},
    {"GET", "/api/v1/claims/{claim}/photos/{sha256}", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0,
     api_photo},
    {"GET", "/api/v1/jobs", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0, api_jobs},
    {"GET", "/api/v1/jobs/{job}/events", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0, api_job_get},
    {"POST", "/api/v1/jobs/{job}/events", SIGNIN_TECHNICIAN, ROUTE_JSON, EVENTS, api_job_post},
    {"PUT", "/api/v1/jobs/{job}/phones/{phone}", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0,
     api_job_phone_put},
    {"GET", "/api/v1/jobs/{job}/photos/{sha256}", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0,
     api_job_photo_get},
    {"PUT", "/api/v1/jobs/{job}/photos/{sha256}", SIGNIN_TECHNICIAN, ROUTE_FILE, PHOTO,
     api_job_photo_put},
    {"GET", "/api/v1/units", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0, api_units},
    {"POST", "/api/v1/lists", SIGNIN_OWNER, ROUTE_FILE, BRING_FILE_MAX, api_list_post},
    {"DELETE", "/api/v1/lists/{list}", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_list_delete},
    {"POST", "/api/v1/lists/{list}/bring", SIGNIN_OWNER, ROUTE_JSON, SMALL, api_list_bring},
    {"GET", "/api/v1/lists/{list}/faults", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_list_faults},
    {"GET", "/api/v1/export/{file}", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_export},
    {"GET", "/api/v1/people", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_people},
    {"POST", "/api/v1/people", SIGNIN_OWNER, ROUTE_JSON, SMALL, api_people_post},
    {"PUT", "/api/v1/people/{person}", SIGNIN_OWNER, ROUTE_JSON, SMALL, api_person_put},
    {"DELETE", "/api/v1/people/{person}", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_person_delete},
    {"DELETE", "/api/v1/people/{person}/name", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_person_forget},
    {"POST", "/api/v1/people/{person}/link", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_person_link},
    {"GET", "/api/v1/audit", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_audit},
    {"GET", "/api/v1/shops", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_shops},
    {"POST", "/api/v1/shops", SIGNIN_OWNER, ROUTE_JSON, DRAFT, api_shops_post},
    {"POST", "/api/v1/keys", SIGNIN_OWNER, ROUTE_JSON, SMALL, api_key_post},
    {"DELETE", "/api/v1/keys/{key}", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_key_delete},
    {"GET", "/api/v1/practice/sets", SIGNIN_TECHNICIAN, ROUTE_NO_BODY, 0, api_practice_sets},
    {"PUT", "/api/v1/practice/sets/{set}", SIGNIN_OWNER, ROUTE_JSON, DRAFT, api_practice_put},
    {"DELETE", "/api/v1/practice/sets/{set}", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_practice_delete},
    {"POST", "/api/v1/practice/sets/{set}/exercises/{exercise}", SIGNIN_TECHNICIAN, ROUTE_NO_BODY,
     0, api_practice_begin},
    {"POST", "/api/v1/practice/check", SIGNIN_OWNER, ROUTE_JSON, DRAFT, api_practice_check},
    {"GET", "/api/v1/practice/results", SIGNIN_OWNER, ROUTE_NO_BODY, 0, api_practice_results},
    {"POST", "/api/v1/practice/results", SIGNIN_TECHNICIAN, ROUTE_JSON, RESULT, api_practice_post},
    {"POST", "/api/v1/practice/gauge", SIGNIN_OWNER, ROUTE_JSON, DRAFT, api_practice_gauge},
    {"GET", "/api/v1/studies", SIGNIN_CLERK, ROUTE_NO_BODY, 0, api_studies},
    {"POST", "/api/v1/studies/{study}", SIGNIN_CLERK, ROUTE_JSON, STUDY, api_study_post},
    {"POST", "/api/v1/kept-studies", SIGNIN_CLERK, ROUTE_JSON, SMALL, api_kept_post},
    {"GET", "/api/v1/kept-studies/{kept}", SIGNIN_CLERK, ROUTE_NO_BODY, 0, api_kept_get},
    {"DELETE", "/api/v1/kept-studies/{kept}", SIGNIN_CLERK, ROUTE_NO_BODY, 0, api_kept_delete},
    {"GET", "/api/v1/campaign", SIGNIN_CLERK, ROUTE_NO_BODY, 0, api_campaign},
    {"GET", "/api/v1/news", SIGNIN_CLERK, ROUTE_NO_BODY, 0, api_news},
};
const size_t n_routes = sizeof routes / sizeof *routes;
const struct route route_page = {"GET", "/", SIGNIN_NOBODY, ROUTE_NO_BODY, 0, api_page};

bool route_hashes(const struct route *route)
{
    return route->run == api_session_post || route->run == api_password_put;
}

bool route_is_long(const struct route *route)
{
    return route->run == api_export || route_sums(route);
}

bool route_sums(const struct route *route)
{
    return route->run == api_campaign;
}
