//go:build cgo && customenv && linux && (amd64 || arm64)

package main

import (
	"fmt"
	"runtime"
	"syscall"
	"unsafe"

	"golang.org/x/sys/unix"
)

// forbidden are the calls that reading a recording and writing pictures never need,
// and that a decoder which a hostile file has taken over would: the network, other
// programs, other processes' memory, the kernel's own settings.
var forbidden = []uint32{
	unix.SYS_SOCKET, unix.SYS_SOCKETPAIR, unix.SYS_CONNECT, unix.SYS_BIND, unix.SYS_LISTEN, unix.SYS_SENDTO,
	unix.SYS_EXECVE, unix.SYS_EXECVEAT,
	unix.SYS_PTRACE, unix.SYS_PROCESS_VM_READV, unix.SYS_PROCESS_VM_WRITEV, unix.SYS_PIDFD_GETFD,
	unix.SYS_MOUNT, unix.SYS_UMOUNT2, unix.SYS_PIVOT_ROOT, unix.SYS_CHROOT, unix.SYS_SETNS, unix.SYS_UNSHARE,
	unix.SYS_BPF, unix.SYS_PERF_EVENT_OPEN, unix.SYS_USERFAULTFD, unix.SYS_KEXEC_LOAD, unix.SYS_INIT_MODULE, unix.SYS_FINIT_MODULE,
	unix.SYS_ADD_KEY, unix.SYS_REQUEST_KEY, unix.SYS_KEYCTL, unix.SYS_IO_URING_SETUP,
}

// openFiles is how many files this process may have open: a dozen recordings, their
// pipes and pictures need a tenth of it.
const openFiles = 256

// confine takes from this process what it does not need, before it opens anything
// that a stranger may have written. A system without such filters (seccomp, in
// Linux since 3.17) runs it as before.
func confine() error {
	files := syscall.Rlimit{Cur: openFiles, Max: openFiles}
	if err := syscall.Setrlimit(syscall.RLIMIT_NOFILE, &files); err != nil {
		return fmt.Errorf("limiting its open files: %w", err)
	}
	var none syscall.Rlimit
	if err := syscall.Setrlimit(syscall.RLIMIT_CORE, &none); err != nil {
		return fmt.Errorf("giving up its core files: %w", err)
	}
	machine := uint32(unix.AUDIT_ARCH_X86_64)
	if runtime.GOARCH == "arm64" {
		machine = unix.AUDIT_ARCH_AARCH64
	}
	// Offsets in struct seccomp_data: the call's number at 0, the machine at 4. A call
	// in the manner of another machine is none that this program makes. So are calls
	// of x86-64's 32-bit face, whose numbers have bit 30 set.
	const load, equal, least, answer = unix.BPF_LD | unix.BPF_W | unix.BPF_ABS, unix.BPF_JMP | unix.BPF_JEQ | unix.BPF_K, unix.BPF_JMP | unix.BPF_JGE | unix.BPF_K, unix.BPF_RET | unix.BPF_K
	refuse := uint32(unix.SECCOMP_RET_ERRNO | uint32(unix.EPERM))
	filter := []unix.SockFilter{
		{Code: load, K: 4},
		{Code: equal, K: machine, Jt: 1},
		{Code: answer, K: refuse},
		{Code: load, K: 0},
		{Code: least, K: 1 << 30, Jf: 1},
		{Code: answer, K: refuse},
	}
	for _, call := range forbidden {
		filter = append(filter, unix.SockFilter{Code: equal, K: call, Jf: 1}, unix.SockFilter{Code: answer, K: refuse})
	}
	filter = append(filter, unix.SockFilter{Code: answer, K: unix.SECCOMP_RET_ALLOW})
	program := unix.SockFprog{Len: uint16(len(filter)), Filter: &filter[0]}

	// The promise never to gain rights is the thread's; the filter is then laid on
	// all threads at once.
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	if err := unix.Prctl(unix.PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0); err != nil {
		return nil // a kernel without it
	}
	// A kernel or a container that does not let it be laid leaves things as they were.
	_, _, _ = syscall.RawSyscall(unix.SYS_SECCOMP, unix.SECCOMP_SET_MODE_FILTER, unix.SECCOMP_FILTER_FLAG_TSYNC, uintptr(unsafe.Pointer(&program)))
	runtime.KeepAlive(filter)
	return nil
}
