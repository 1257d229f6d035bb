package sheets

import (
	"errors"
	"path/filepath"
	"time"

	"golang.org/x/sys/windows"
)

// lockName is that of the file which is there while a folder is locked: the
// system locks files, no folders.
const lockName = ".rambook-lock"

// deniedPatience is how long a refusal may be due to a lock that is just being
// given back, and not to the rights of the user.
const deniedPatience = 300 * time.Millisecond

// lockFolder opens a file of the folder that nobody else can open meanwhile. It
// vanishes when it is closed, and the system closes it whatever happens to the
// process.
func lockFolder(folder string) (unlock func(), err error) {
	name, err := windows.UTF16PtrFromString(filepath.Join(folder, lockName))
	if err != nil {
		return nil, err
	}
	const shared = 0 // with nobody
	for from := time.Now(); ; time.Sleep(5 * time.Millisecond) {
		h, err := windows.CreateFile(name, windows.GENERIC_WRITE|windows.DELETE, shared, nil, windows.OPEN_ALWAYS,
			windows.FILE_ATTRIBUTE_HIDDEN|windows.FILE_FLAG_DELETE_ON_CLOSE, 0)
		waited := time.Since(from)
		switch {
		case err == nil:
			return func() { windows.CloseHandle(h) }, nil
		case errors.Is(err, windows.ERROR_SHARING_VIOLATION) && waited < lockPatience:
		case errors.Is(err, windows.ERROR_SHARING_VIOLATION):
			return nil, errLocked
		case errors.Is(err, windows.ERROR_ACCESS_DENIED) && waited < deniedPatience:
		default:
			return nil, err
		}
	}
}
