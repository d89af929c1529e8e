package main

// The window toolkit looks at the locale while the program is being loaded,
// before any line of Go here runs, and complains on standard error about
// C.UTF-8, which servers and containers have. The C library's constructors run
// earlier still, and the environment that Go reads is the one they see. C.UTF-8
// asks for English, so English is what it is told.

/*
#include <string.h>

extern char **environ;

static char *const plain[][2] = {
	{"LC_ALL=C.", "LC_ALL=en_US.UTF-8"},
	{"LC_MESSAGES=C.", "LC_MESSAGES=en_US.UTF-8"},
	{"LANG=C.", "LANG=en_US.UTF-8"},
};

__attribute__((constructor)) static void plain_locale(void) {
	for (char **e = environ; e != 0 && *e != 0; e++)
		for (unsigned i = 0; i < sizeof plain / sizeof plain[0]; i++)
			if (strncmp(*e, plain[i][0], strlen(plain[i][0])) == 0)
				*e = plain[i][1];
}
*/
import "C"
