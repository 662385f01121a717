// hash: the part of the address behind the #, which is where the pages keep what they show.
import { useLayoutEffect, useState } from 'preact/hooks';

/** The hash as it is now; whoever uses it is drawn again when it changes. It is listened for before the browser does anything else after
 * the drawing: an effect would begin later, and a change in between, on a busy machine, would never be seen. */
export function useHash(): string {
    const [hash, set] = useState(location.hash);
    useLayoutEffect(() => {
        const look = () => set(location.hash);
        addEventListener('hashchange', look);
        look();
        return () => removeEventListener('hashchange', look);
    }, []);
    return hash;
}
