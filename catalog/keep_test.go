package catalog

import (
	"errors"
	"testing"
)

// TestKeepDropsNothing: faults wait for the end, any other error ends a load.
func TestKeepDropsNothing(t *testing.T) {
	l := loader{}
	if err := l.keep(nil); err != nil || len(l.faults) != 0 {
		t.Errorf("keep(nil) = %v with faults %v", err, l.faults)
	}
	if err := l.keep(InputErrors{{Msg: "is wrong"}}); err != nil || len(l.faults) != 1 {
		t.Errorf("faults give %v and %v", err, l.faults)
	}
	odd := errors.New("something else")
	if err := l.keep(odd); !errors.Is(err, odd) || len(l.faults) != 1 {
		t.Errorf("another error gives %v and %v", err, l.faults)
	}
}
