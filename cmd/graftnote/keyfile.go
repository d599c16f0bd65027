package main

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"encoding/base64"
	"fmt"
	"os"
	"strings"

	"go.yaml.in/yaml/v3"

	"graftnote/casebook"
)

// publicEnd is what the name of a public key's file adds to that of the key.
const publicEnd = ".pub"

const publicHead = `# The public half of a graftnote signing key: anyone may have it.
`

// publicFile is the public half as a file.
type publicFile struct {
	Format string `yaml:"graftnote-public-key"`
	Name   string `yaml:"name"`
	Role   string `yaml:"role"`
	ID     string `yaml:"id"`
	Key    string `yaml:"key"`
}

const publicFormat = "1"

func publicText(k casebook.PublicKey) string {
	b, err := yaml.Marshal(publicFile{publicFormat, k.Name, k.Role, k.ID, k.Key})
	if err != nil { // five texts can always be written
		panic("public key: not written")
	}
	return publicHead + string(b)
}

// parsePublic reads a public half. The identifier must be that of the key, so
// that a slip or a swap is seen.
func parsePublic(file []byte) (casebook.PublicKey, error) {
	var p publicFile
	dec := yaml.NewDecoder(bytes.NewReader(file))
	dec.KnownFields(true)
	if err := dec.Decode(&p); err != nil || p.Format != publicFormat {
		return casebook.PublicKey{}, casebook.ErrKey
	}
	parts := strings.SplitN(p.Key, "+", 3)
	if len(parts) != 3 {
		return casebook.PublicKey{}, casebook.ErrKey
	}
	raw, err := base64.StdEncoding.DecodeString(parts[2])
	if err != nil || len(raw) != 1+ed25519.PublicKeySize { // one byte names the algorithm
		return casebook.PublicKey{}, casebook.ErrKey
	}
	k, err := casebook.NewPublicKey(ed25519.PublicKey(raw[1:]), p.Name, p.Role)
	if err != nil {
		return k, err
	}
	if k.Key != p.Key || k.ID != p.ID {
		return casebook.PublicKey{}, casebook.ErrKey
	}
	return k, nil
}

// readPublic reads the public half: of a file that holds it, or of one that lies
// beside the key.
func readPublic(path string) (casebook.PublicKey, error) {
	if !strings.HasSuffix(path, publicEnd) {
		path += publicEnd
	}
	text, err := readInput(path, mostTyped)
	if err != nil {
		return casebook.PublicKey{}, unread(path, err)
	}
	k, err := parsePublic(text)
	if err != nil {
		return k, bookFault(path, err)
	}
	return k, nil
}

// signerFlags name the key that signs.
type signerFlags struct {
	key    string
	secret secretFlags
}

// openKey opens a key file under its passphrase.
func (a *app) openKey(path string, s secretFlags) (*casebook.Key, error) {
	if strings.HasSuffix(path, publicEnd) {
		return nil, usage("a public key can't sign", "name the key file itself")
	}
	f, err := openInput(path, anySize)
	if err != nil {
		return nil, unread(path, err)
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil {
		a.hintOpen("the key "+path, info)
	}
	pass, err := s.read(a, "the key "+path, false)
	if err != nil {
		return nil, err
	}
	defer wipe(pass)
	k, err := casebook.OpenKey(f, pass)
	if err != nil {
		return nil, bookFault(path, err)
	}
	return k, nil
}

// signer holds who signs: the public half at once where it lies beside the key,
// the key itself when it is needed.
type signer struct {
	flags  signerFlags
	public casebook.PublicKey
	key    *casebook.Key
}

func (a *app) signer(f signerFlags) (*signer, error) {
	s := &signer{flags: f}
	var err error
	if _, missing := os.Stat(strings.TrimSuffix(f.key, publicEnd) + publicEnd); missing == nil {
		s.public, err = readPublic(f.key)
		return s, err
	}
	_, err = s.open(a)
	return s, err
}

// open asks for the passphrase once.
func (s *signer) open(a *app) (*casebook.Key, error) {
	if s.key != nil {
		return s.key, nil
	}
	k, err := a.openKey(s.flags.key, s.flags.secret)
	if err != nil {
		return nil, err
	}
	if p := k.Public(); s.public.ID != "" && s.public != p {
		return nil, &fault{status: statusBlocked, text: fmt.Sprintf("%s%s is not the public half of this key; nothing was signed", s.flags.key, publicEnd),
			hints: []string{"'graftnote keys show' writes it again once the wrong file is moved away"}}
	}
	s.key, s.public = k, k.Public()
	return k, nil
}

// stands refuses a registered key that signs nothing before anybody types for it.
// An unregistered one may still be shown what it would sign.
func (s *signer) stands(ctx context.Context, book *casebook.Casebook) error {
	keys, err := book.Keys(ctx)
	if err != nil {
		return bookFault("the keys of the casebook", err)
	}
	for _, k := range keys {
		switch {
		case k.ID != s.public.ID:
		case k.Revoked != 0:
			return bookFault("nothing was signed", casebook.ErrRevokedKey)
		case !k.Stands():
			return bookFault("nothing was signed", casebook.ErrUnvouched)
		}
	}
	return nil
}
