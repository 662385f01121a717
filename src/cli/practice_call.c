/* practice_call: owns how a file of exercises is read for the command line; see practice_call.h. */
#include "cli/practice_call.h"

#include "base/file.h"

int practice_file_read(const char *path, struct practice_file *ret)
{
    struct fault f = {0};
    uint8_t digest[DIGEST_SHA256_SIZE];
    *ret = (struct practice_file){.path = path};
    enum err e = file_read(path, EXERCISE_SIZE_MAX, &ret->source, &f);
    const char *bytes = ret->source.data != NULL ? ret->source.data : "";
    if (e == ERR_OK) {
        e = digest_bytes(DIGEST_SHA256, bytes, ret->source.size, digest);
        if (e != ERR_OK)
            fault_set(&f, e, "the digest could not be made");
    }
    if (e != ERR_OK) {
        fault_list_add(&ret->faults, &f, false);
        ret->faults.is_unreadable = true;
        return e == ERR_MEMORY || e == ERR_IO ? CLI_FAILED : CLI_WRONG;
    }
    digest_hex(digest, sizeof digest, ret->sha256);
    ret->set = exercise_set_load(bytes, ret->source.size, path, &ret->faults);
    if (ret->faults.is_out_of_memory)
        return CLI_FAILED;
    if (ret->set != NULL)
        return CLI_GOOD;
    return ret->faults.is_unreadable ? CLI_WRONG : CLI_NO;
}

void practice_file_done(struct practice_file *file)
{
    exercise_set_free(file->set);
    fault_list_done(&file->faults);
    text_done(&file->source);
    *file = (struct practice_file){0};
}

int practice_file_whole(const struct cli *ctx, const char *path, struct practice_file *ret)
{
    const int code = practice_file_read(path, ret);
    if (code == CLI_GOOD)
        return code;
    if (ret->faults.n_faults > 0)
        (void)cli_fault(ctx, &ret->faults.faults[0]);
    return code == CLI_NO ? CLI_WRONG : code;
}
