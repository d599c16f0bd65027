//go:build unix

package casebook

import (
	"errors"
	"syscall"
)

func isReadOnlyFS(err error) bool { return errors.Is(err, syscall.EROFS) }

func isFull(err error) bool { return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) }
