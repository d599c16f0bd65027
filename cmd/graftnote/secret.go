package main

import (
	"bytes"
	"errors"
	"io"
	"os"
	"os/signal"
	"syscall"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"golang.org/x/term"
)

// Passphrases come from a terminal without echo, from a file, or from a file
// that the calling program opened. Never from an argument or a variable: both
// are seen by others (CWE-214).

// Bounds of a passphrase. The least is what NIST SP 800-63B section 5.1.1.2 asks
// of a chosen secret, in characters; from memory, unverified.
const (
	leastPassphrase = 8
	mostPassphrase  = 1024 // bytes
)

type secretFlags struct {
	file string
	fd   int
}

func (s *secretFlags) flags(c *cobra.Command, what string) {
	c.Flags().StringVar(&s.file, "passphrase-file", "", "read the passphrase of "+what+" from the first line of a `file`")
	c.Flags().IntVar(&s.fd, "passphrase-fd", -1, "read it from an open file descriptor of this `number`")
}

func (s *secretFlags) given() bool { return s.file != "" || s.fd >= 0 }

// read gives the passphrase; whoever gets it wipes it. A fresh one is asked for
// twice and must not be too short.
func (s *secretFlags) read(a *app, what string, fresh bool) ([]byte, error) {
	pass, err := s.take(a, what, fresh)
	if err != nil {
		return nil, err
	}
	switch {
	case len(pass) == 0:
		return nil, &fault{status: statusUsage, text: "the passphrase of " + what + " is empty"}
	case fresh && utf8.RuneCount(pass) < leastPassphrase:
		wipe(pass)
		return nil, &fault{status: statusUsage, text: "the passphrase is too short: at least 8 characters are needed", hints: []string{"several words that only you would put together are easy to keep in mind"}}
	}
	return pass, nil
}

func (s *secretFlags) take(a *app, what string, fresh bool) ([]byte, error) {
	switch {
	case s.file != "" && s.fd >= 0:
		return nil, usage("--passphrase-file and --passphrase-fd say the same; give one")
	case s.fd == 1 || s.fd == 2:
		return nil, usage("--passphrase-fd is 0, or 3 and more")
	case s.file != "":
		f, err := openInput(s.file, anySize)
		if err != nil {
			return nil, unread(s.file, err)
		}
		defer f.Close()
		if info, err := f.Stat(); err == nil && openToOthers(info.Mode()) {
			a.print.hint("other users of this machine may read " + s.file)
		}
		pass, err := firstLine(f)
		if err != nil {
			return nil, unread(s.file, err)
		}
		return pass, nil
	case s.fd == 0:
		pass, err := firstLine(a.stdin)
		if err != nil {
			return nil, unread("the passphrase", err)
		}
		return pass, nil
	case s.fd > 0:
		f := os.NewFile(uintptr(s.fd), "passphrase")
		if f == nil {
			return nil, usage("--passphrase-fd names no open file")
		}
		defer f.Close()
		pass, err := firstLine(f)
		if err != nil {
			return nil, unread("the passphrase", err)
		}
		return pass, nil
	case !a.talks():
		return nil, usage("the passphrase of "+what+" is asked for", "give --passphrase-file or --passphrase-fd where nobody is at a terminal")
	}
	pass, err := a.whisper("Passphrase of " + what + ": ")
	if err != nil || !fresh {
		return pass, err
	}
	again, err := a.whisper("The same once more: ")
	defer wipe(again)
	if err != nil {
		wipe(pass)
		return nil, err
	}
	if !bytes.Equal(pass, again) {
		wipe(pass)
		return nil, &fault{status: statusUsage, text: "the two passphrases differ; nothing was written"}
	}
	return pass, nil
}

// firstLine reads into one buffer, which is wiped but for what is given back.
func firstLine(r io.Reader) ([]byte, error) {
	buffer := make([]byte, mostPassphrase+2)
	defer wipe(buffer)
	n := 0
	for n < len(buffer) {
		m, err := r.Read(buffer[n:])
		n += m
		if bytes.IndexByte(buffer[:n], '\n') >= 0 || errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
	}
	line, _, _ := bytes.Cut(buffer[:n], []byte("\n"))
	line = bytes.TrimSuffix(line, []byte("\r"))
	if len(line) > mostPassphrase {
		return nil, errors.New("the first line is longer than any passphrase")
	}
	return bytes.Clone(line), nil
}

// wipe overwrites a secret. The runtime and the libraries below may have copied
// it; see docs/threats.md.
func wipe(b []byte) { clear(b) }

// whisper asks for a secret without showing it.
func (a *app) whisper(prompt string) ([]byte, error) {
	a.print.prompt(prompt)
	pass, err := a.env.secret(a.stdin)
	a.print.prompt("\n")
	if err != nil {
		wipe(pass)
		return nil, unread("the passphrase", err)
	}
	return pass, nil
}

// readSecret reads a line from a terminal with its echo off. When the user stops
// the program meanwhile, the echo comes back.
func readSecret(r io.Reader) ([]byte, error) {
	f, ok := r.(*os.File)
	if !ok {
		return nil, errors.New("there is no terminal")
	}
	fd := int(f.Fd())
	state, err := term.GetState(fd)
	if err != nil {
		return nil, err
	}
	stop := make(chan os.Signal, 1)
	done := make(chan struct{})
	signal.Notify(stop, os.Interrupt, syscall.SIGTERM)
	go func() {
		select {
		case <-stop:
			_ = term.Restore(fd, state)
			os.Exit(statusIO)
		case <-done:
		}
	}()
	defer close(done)
	defer signal.Stop(stop)
	return term.ReadPassword(fd)
}

// isConsole reports whether a person types into the stream.
func isConsole(r io.Reader) bool {
	f, ok := r.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}
