package client

import "pawl/model/fault"

// follow gives each row of a list to row, page after page from the cursor on,
// until there is no next page or row returns an error.
func follow[T any](cursor string, page func(cursor string) ([]T, *string, error), row func(T) error) error {
	for {
		rows, next, err := page(cursor)
		if err != nil {
			return err
		}
		for _, r := range rows {
			if err := row(r); err != nil {
				return err
			}
		}
		if next == nil || *next == "" {
			return nil
		}
		if *next == cursor {
			return fault.New(fault.Internal, "the list does not end: its next page is the one just read")
		}
		cursor = *next
	}
}

// gathered is follow into a slice, never nil.
func gathered[T any](page func(cursor string) ([]T, *string, error)) ([]T, error) {
	all := []T{}
	err := follow("", page, func(r T) error {
		all = append(all, r)
		return nil
	})
	return all, err
}
