package main

import (
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"strings"
)

// keyLength of a row key in bytes: the size of the block that HMAC-SHA-256
// gives, which RFC 2104 section 3 recommends as the least.
const keyLength = 32

const keyHead = "# The key that turns tissue and case into the pseudonyms of the registry row.\n" +
	"# Whoever holds it can link rows to cases: keep it out of mail and version control,\n" +
	"# and keep a copy in a safe place. Without it rows cannot be linked to cases again.\n"

func newKey(random io.Reader) (string, error) {
	b := make([]byte, keyLength)
	if _, err := io.ReadFull(random, b); err != nil {
		return "", err
	}
	return keyHead + hex.EncodeToString(b) + "\n", nil
}

// parseKey reads a key in hex or base64; lines with # are comments. The error
// does not quote it.
func parseKey(file []byte) ([]byte, error) {
	var text strings.Builder
	for _, line := range strings.Split(string(file), "\n") {
		if line = strings.TrimSpace(line); !strings.HasPrefix(line, "#") {
			text.WriteString(line)
		}
	}
	key, err := hex.DecodeString(text.String())
	if err != nil {
		key, err = base64.StdEncoding.DecodeString(text.String())
	}
	if err != nil {
		return nil, errors.New("it is neither hex nor base64")
	}
	if len(key) < keyLength {
		return nil, fmt.Errorf("it has %d bytes; %d are needed", len(key), keyLength)
	}
	return key, nil
}
