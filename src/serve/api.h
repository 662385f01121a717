/* api: what the handlers share, and their names for the table of routes. Inside src/serve/. */
#ifndef SERVE_API_H
#define SERVE_API_H

#include "base/json.h"
#include "serve/http.h"

/* api_body: the body as a JSON object; NULL after a problem was set. Free with json_free. api_text: a member that is a text of
 * 1..max bytes without control characters; NULL after a problem was set. */
struct json_doc *api_body(struct http_call *c);
const char *api_text(struct http_call *c, json_node *object, const char *name, size_t max);

/* api_number: text (NULL: not given) as a whole number of 1..most; `usual` when it is not given; 0 after a problem was set. */
int64_t api_number(struct http_call *c, const char *name, const char *text, int64_t usual,
                   int64_t most);

/* api_begin_task: 202 with the task's name and where it is told of; order->person is set to who calls. */
struct task_order;
void api_begin_task(struct http_call *c, const struct task_order *order);

/* session */
void api_session_get(struct http_call *c);
void api_session_post(struct http_call *c);
void api_session_delete(struct http_call *c);
void api_password_put(struct http_call *c);
void api_enter_page(struct http_call *c);
/* ops */
void api_health(struct http_call *c);
void api_metrics(struct http_call *c);
void api_openapi(struct http_call *c);
/* bags */
void api_bag_get(struct http_call *c);
void api_bag_put(struct http_call *c);
/* bulletins */
void api_bulletins(struct http_call *c);
void api_bulletin(struct http_call *c);
void api_bulletin_file(struct http_call *c);
void api_picture(struct http_call *c);
void api_reference(struct http_call *c);
/* drafts of bulletins */
void api_drafts(struct http_call *c);
void api_draft_get(struct http_call *c);
void api_draft_put(struct http_call *c);
void api_draft_delete(struct http_call *c);
void api_bulletin_check(struct http_call *c);
void api_bulletin_sheet(struct http_call *c);
void api_cards(struct http_call *c); /* api_teach.c */
void api_crib(struct http_call *c);
void api_bulletin_whatif(struct http_call *c);
void api_bulletin_post(struct http_call *c);
/* long work */
void api_task_get(struct http_call *c);
void api_task_delete(struct http_call *c);
/* claims */
void api_claims(struct http_call *c);
void api_claim(struct http_call *c);
void api_claim_events(struct http_call *c);
void api_photo(struct http_call *c);
/* a clerk's words */
void api_rulings_post(struct http_call *c);
void api_ruling_post(struct http_call *c);
void api_ruling_delete(struct http_call *c);
void api_payment_post(struct http_call *c);
void api_note_post(struct http_call *c);
void api_settle_post(struct http_call *c);
void api_letter(struct http_call *c);
/* open jobs */
void api_jobs(struct http_call *c);
void api_job_get(struct http_call *c);
void api_job_post(struct http_call *c);
void api_job_phone_put(struct http_call *c);
void api_job_photo_get(struct http_call *c);
void api_job_photo_put(struct http_call *c);
/* units, lists, what is given out */
void api_units(struct http_call *c);
void api_list_post(struct http_call *c);
void api_list_delete(struct http_call *c);
void api_list_bring(struct http_call *c);
void api_list_faults(struct http_call *c);
void api_export(struct http_call *c);
/* people, shops, who did what */
void api_people(struct http_call *c);
void api_people_post(struct http_call *c);
void api_person_put(struct http_call *c);
void api_person_delete(struct http_call *c);
void api_person_forget(struct http_call *c);
void api_person_link(struct http_call *c);
void api_audit(struct http_call *c);
void api_shops(struct http_call *c);
void api_shops_post(struct http_call *c);
void api_key_post(struct http_call *c);
void api_key_delete(struct http_call *c);
/* practice */
void api_practice_sets(struct http_call *c);
void api_practice_check(struct http_call *c);
void api_practice_put(struct http_call *c);
void api_practice_delete(struct http_call *c);
void api_practice_begin(struct http_call *c);
void api_practice_results(struct http_call *c);
void api_practice_post(struct http_call *c);
void api_practice_gauge(struct http_call *c);
/* studies, and those kept for the report */
void api_studies(struct http_call *c);
void api_study_post(struct http_call *c);
void api_kept_post(struct http_call *c);
void api_kept_get(struct http_call *c);
void api_kept_delete(struct http_call *c);
/* campaign */
void api_campaign(struct http_call *c);
void api_news(struct http_call *c);
/* pages */
void api_page(struct http_call *c);

#endif
