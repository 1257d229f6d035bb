package sheets

import (
	"errors"
	"time"
)

// lockPatience is how long an update waits for another one in the same folder.
// One takes milliseconds.
const lockPatience = 10 * time.Second

var errLocked = errors.New("another program holds the folder locked")
