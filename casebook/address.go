package casebook

import (
	"net"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5"
)

var (
	serverAddress = regexp.MustCompile(`(?i)^postgres(?:ql)?://`)
	// A scheme has two letters at least: C:/ is a disk.
	anyAddress = regexp.MustCompile(`(?i)^\s*[a-z][a-z0-9+.-]+:/|^\s*postgres(?:ql)?:|://`)
	// The other form of a PostgreSQL address, by its keywords.
	anyKeywords = regexp.MustCompile(`(?i)(?:^|\s)(?:host|hostaddr|port|user|password|passfile|dbname|database|service|sslmode)\s*=`)
)

// IsServer reports whether a casebook's place is a PostgreSQL address. Such an
// address may hold a password and must not be printed.
func IsServer(dsn string) bool { return serverAddress.MatchString(dsn) }

// IsAddress reports whether a place is meant as the address of a server, also one
// that can't be used: a slip in it never makes a local file of its name. It may
// hold a password and must not be printed.
func IsAddress(dsn string) bool {
	return IsServer(dsn) || anyAddress.MatchString(dsn) || anyKeywords.MatchString(dsn)
}

// driverAddress is the address in the one way of writing that the driver takes.
func driverAddress(dsn string) string {
	scheme, rest, _ := strings.Cut(dsn, "://")
	return strings.ToLower(scheme) + "://" + rest
}

// ServerName names the database of an address without its user and password; ""
// when it can't be understood.
func ServerName(dsn string) string {
	config, err := pgx.ParseConfig(driverAddress(dsn))
	if !IsServer(dsn) || err != nil {
		return ""
	}
	name := net.JoinHostPort(config.Host, strconv.Itoa(int(config.Port)))
	if filepath.IsAbs(config.Host) {
		name = config.Host
	}
	if config.Database != "" {
		name += ", database " + config.Database
	}
	return name
}

// Unverified reports whether a connection to this address may be read or answered
// by somebody between: it is not encrypted, or the server's certificate is not
// held to its name. A socket and the machine itself need neither.
func Unverified(dsn string) bool {
	config, err := pgx.ParseConfig(driverAddress(dsn))
	if !IsServer(dsn) || err != nil {
		return false
	}
	if ip := net.ParseIP(config.Host); config.Host == "localhost" || filepath.IsAbs(config.Host) || ip != nil && ip.IsLoopback() {
		return false
	}
	if config.TLSConfig == nil || config.TLSConfig.InsecureSkipVerify {
		return true
	}
	for _, f := range config.Fallbacks {
		if f.TLSConfig == nil || f.TLSConfig.InsecureSkipVerify {
			return true
		}
	}
	return false
}
