package pgtest

import (
	"os"
	"os/user"
	"strconv"
	"syscall"
)

// serverUser gives dir to the user that the server will run as; nil means the
// user of this process.
func serverUser(dir string) (*syscall.Credential, error) {
	if os.Getuid() != 0 {
		return nil, nil
	}
	u, err := user.Lookup("postgres")
	if err != nil {
		return nil, err
	}
	uid, err := strconv.ParseUint(u.Uid, 10, 32)
	if err != nil {
		return nil, err
	}
	gid, err := strconv.ParseUint(u.Gid, 10, 32)
	if err != nil {
		return nil, err
	}
	return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}, os.Chown(dir, int(uid), int(gid))
}

// runAs makes a process run as a user and, if asked, end with this one.
func runAs(as *syscall.Credential, endWithUs bool) *syscall.SysProcAttr {
	a := &syscall.SysProcAttr{Credential: as}
	if endWithUs {
		a.Pdeathsig = syscall.SIGQUIT // the server's immediate shutdown
	}
	return a
}
