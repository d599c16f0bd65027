package casebook

import (
	"reflect"
	"slices"
	"testing"
)

// reach says of every way into an open casebook what it gives. A command can use
// no other: what hands out a signed entry verifies it first.
var reach = map[string]string{
	"Get": "verified", "Proof": "verified", "Proofs": "verified", "FollowUps": "verified", "FollowUpProof": "verified",
	"EachInForce": "verified", "EachWithdrawn": "verified",

	"SignOff": "acts", "Correct": "acts", "CounterSign": "acts", "Addendum": "acts", "Withdraw": "acts", "RecordFollowUp": "acts", "WithdrawFollowUp": "acts",
	"AddKey": "acts", "Vouch": "acts", "RevokeKey": "acts", "RecordSubmission": "acts", "RecordReceipt": "acts", "RecordRowKeys": "acts",

	// What is in lists and records as it stands; no entry, no words.
	"List": "lists", "Status": "lists", "Keys": "lists", "Likenesses": "lists", "Packages": "lists", "Sent": "lists", "Submitted": "lists", "Memory": "lists", "RowKeys": "lists", "Forgot": "lists",

	"Check": "whole", "Backup": "whole", "Checkpoint": "whole", "ProveGrowth": "whole", "ID": "whole", "Close": "whole",
}

// carriers are the types through which a signed entry or its words can be had.
var carriers = []string{"*casebook.Statement", "casebook.Statement", "casebook.History", "casebook.Revision", "casebook.Proof", "casebook.InForce", "casebook.FollowUpOf", "casebook.Earlier"}

func TestNothingSignedIsReadUnverified(t *testing.T) {
	c := reflect.TypeOf(&Casebook{})
	if c.NumMethod() < 25 {
		t.Fatalf("%d methods", c.NumMethod())
	}
	for i := range c.NumMethod() {
		m := c.Method(i)
		gives := reach[m.Name]
		if gives == "" {
			t.Errorf("%s is a new way into a casebook: does it verify what it gives? Say so in this table", m.Name)
		}
		if carries(m.Type) && gives != "verified" {
			t.Errorf("%s hands out what was signed and is not among the verified reads", m.Name)
		}
	}
}

// carries looks at the results, and at what a function that is handed in is given.
func carries(f reflect.Type) bool {
	for i := range f.NumOut() {
		if holdsCarrier(f.Out(i)) {
			return true
		}
	}
	for i := 1; i < f.NumIn(); i++ {
		if in := f.In(i); in.Kind() == reflect.Func {
			for k := range in.NumIn() {
				if holdsCarrier(in.In(k)) {
					return true
				}
			}
		}
	}
	return false
}

func holdsCarrier(t reflect.Type) bool {
	for t.Kind() == reflect.Slice || t.Kind() == reflect.Map {
		t = t.Elem()
	}
	return slices.Contains(carriers, t.String())
}
