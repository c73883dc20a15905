/* Reads an iCalendar file with libical and prints what it understood, one event a line, texts in hexadecimal:
   EVENT uid start end sequence status summary description location
   Times are "D yyyymmdd" for days and "T seconds-since-1970" for moments. ERRORS and VALID come first. */
#include <libical/ical.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void say_hex(const char *text) {
    printf("\t");
    for (; text && *text; text++) printf("%02x", (unsigned char)*text);
}

static void say_time(struct icaltimetype when) {
    if (when.is_date) {
        printf("\tD %04d%02d%02d", when.year, when.month, when.day);
    } else if (when.zone == NULL) {
        printf("\tFLOATING");
    } else {
        printf("\tT %lld", (long long)icaltime_as_timet_with_zone(when, when.zone));
    }
}

int main(int argc, char **argv) {
    if (argc < 2) return 2;
    FILE *file = fopen(argv[1], "rb");
    if (!file) return 2;
    fseek(file, 0, SEEK_END);
    long size = ftell(file);
    rewind(file);
    char *text = calloc((size_t)size + 1, 1);
    if (fread(text, 1, (size_t)size, file) != (size_t)size) return 2;
    fclose(file);
    icalerror_set_errors_are_fatal(0);
    icalcomponent *calendar = icalparser_parse_string(text);
    if (!calendar) {
        printf("ERRORS\t-1\nVALID\t0\n");
        return 0;
    }
    int valid = icalrestriction_check(calendar);
    printf("ERRORS\t%d\nVALID\t%d\n", icalcomponent_count_errors(calendar), valid);
    icalcomponent *event = icalcomponent_get_first_component(calendar, ICAL_VEVENT_COMPONENT);
    for (; event; event = icalcomponent_get_next_component(calendar, ICAL_VEVENT_COMPONENT)) {
        printf("EVENT");
        say_hex(icalcomponent_get_uid(event));
        say_time(icalcomponent_get_dtstart(event));
        say_time(icalcomponent_get_dtend(event));
        printf("\t%d\t%s", icalcomponent_get_sequence(event),
               icalenum_status_to_string(icalcomponent_get_status(event)));
        say_hex(icalcomponent_get_summary(event));
        say_hex(icalcomponent_get_description(event));
        say_hex(icalcomponent_get_location(event));
        printf("\n");
    }
    icalcomponent_free(calendar);
    free(text);
    return 0;
}
