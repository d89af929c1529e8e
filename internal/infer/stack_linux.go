package infer

/*
#cgo LDFLAGS: -lpthread
#include <pthread.h>
#include <stddef.h>
#include <stdint.h>

extern void volarInferCall(uintptr_t);

static void *enter(void *handle) {
	volarInferCall((uintptr_t)handle);
	return NULL;
}

static int callOnStack(uintptr_t handle, size_t stack) {
	pthread_attr_t attr;
	pthread_t thread;
	int err = pthread_attr_init(&attr);
	if (err) return err;
	err = pthread_attr_setstacksize(&attr, stack);
	if (!err) err = pthread_create(&thread, &attr, enter, (void *)handle);
	pthread_attr_destroy(&attr);
	return err ? err : pthread_join(thread, NULL);
}
*/
import "C"

import (
	"fmt"
	"os"
	"runtime/cgo"
	"syscall"
)

const (
	usualStack = 8 << 20
	// stackPerByte of the command line: ONNX Runtime 1.30 was seen to take
	// about 200 bytes.
	stackPerByte = 1 << 10
)

// onDeepStack runs f on a thread whose stack suits the command line, and
// waits for it. ONNX Runtime 1.30 looks at the process's command line with a
// matcher that calls itself for every character as it starts; with the usual
// 8 MiB the process dies at some 40 kB, which is a few hundred files. The
// stack is address space only until it is used.
func onDeepStack(f func() error) error {
	size := usualStack
	for _, a := range os.Args {
		size += stackPerByte * (len(a) + 1)
	}
	var err error
	h := cgo.NewHandle(func() { err = f() })
	defer h.Delete()
	if e := C.callOnStack(C.uintptr_t(h), C.size_t(size)); e != 0 {
		return fmt.Errorf("start a thread for the library, with a stack of %d MiB: %w; pass fewer or shorter file names", size>>20, syscall.Errno(e))
	}
	return err
}

//export volarInferCall
func volarInferCall(h C.uintptr_t) { cgo.Handle(h).Value().(func())() }
