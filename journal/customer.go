package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// Customer is whose vehicle it is. These rows stand beside the chain: events
// hold the id, so that the rest can be erased and every hash stays good.
type Customer struct {
	ID      string // given by who records it; never used again
	Name    string
	Plate   string // of the vehicle
	Contact string
	Erased  bool
}

// ErrErased is the refusal to write to a customer who was erased.
var ErrErased = errors.New("the customer was erased, and an erased id is not used again")

// SetCustomer writes a customer, over what stood there before.
func (s *Store) SetCustomer(ctx context.Context, c Customer) error {
	if err := c.problems(); err != nil {
		return err
	}
	return s.db.Write(ctx, func(tx *sql.Tx) error {
		was, err := customer(ctx, tx, c.ID)
		if err != nil && !errors.Is(err, ErrUnknown) {
			return err
		}
		if was.Erased {
			return fmt.Errorf("%s: %w", c.ID, ErrErased)
		}
		return setCustomer(ctx, tx, c)
	})
}

func setCustomer(ctx context.Context, tx *sql.Tx, c Customer) error {
	_, err := tx.ExecContext(ctx, `INSERT INTO customer (id, name, plate, sought, contact) VALUES ($1, $2, $3, $4, $5)
		ON CONFLICT (id) DO UPDATE SET name = excluded.name, plate = excluded.plate, sought = excluded.sought, contact = excluded.contact`,
		c.ID, c.Name, c.Plate, fold(c.Name)+"\n"+fold(c.Plate)+"\n"+bare(c.Plate), c.Contact)
	return err
}

// problems lists all that is wrong with what was written.
func (c Customer) problems() error {
	var all []error
	if why := name(c.ID); why != "" {
		all = append(all, fmt.Errorf("the customer's id %s", why))
	}
	for _, f := range []struct{ what, text string }{{"name", c.Name}, {"plate", c.Plate}, {"contact", c.Contact}} {
		if plain(f.text) != f.text {
			all = append(all, fmt.Errorf("the customer's %s %q holds what is no text: write letters, digits, signs", f.what, f.text))
		}
	}
	return errors.Join(all...)
}

// Customer returns a customer: ErrUnknown when there is none of that id; only
// the id when he was erased.
func (s *Store) Customer(ctx context.Context, id string) (c Customer, err error) {
	err = s.db.Read(ctx, func(tx *sql.Tx) error {
		c, err = customer(ctx, tx, id)
		return err
	})
	return c, err
}

func customer(ctx context.Context, tx *sql.Tx, id string) (Customer, error) {
	if name(id) != "" { // nobody has such an id
		return Customer{}, fmt.Errorf("customer %q: %w", id, ErrUnknown)
	}
	c := Customer{ID: id}
	var erased string
	err := tx.QueryRowContext(ctx, "SELECT name, plate, contact, erased FROM customer WHERE id = $1", id).Scan(&c.Name, &c.Plate, &c.Contact, &erased)
	if errors.Is(err, sql.ErrNoRows) {
		return Customer{}, fmt.Errorf("customer %s: %w", id, ErrUnknown)
	}
	c.Erased = erased != ""
	return c, err
}

// Erase removes name, plate and contact of a customer, from the file too: on
// SQLite the bytes are overwritten and the write-ahead log is emptied, on
// PostgreSQL the table is written anew. Copies made before, such as backups and
// a server's log, keep what they hold. Erasing again does what a first time could
// not finish.
func (s *Store) Erase(ctx context.Context, id string) error {
	err := s.db.Write(ctx, func(tx *sql.Tx) error {
		was, err := customer(ctx, tx, id)
		if err != nil || was.Erased {
			return err
		}
		_, err = tx.ExecContext(ctx, "UPDATE customer SET name = '', plate = '', sought = '', contact = '', erased = $2 WHERE id = $1", id, stamp(s.now()))
		return err
	})
	if err != nil {
		return err
	}
	return s.db.Scrub(ctx, "customer")
}
