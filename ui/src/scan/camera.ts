// camera: owns the phone's camera while a scanning screen is open: the rear one first, another by choice, its light where it has one;
// what keeps it from working, in one word; and that it is off again afterwards.
import { greyOf } from '../photo/photo';

/** insecure: the page did not come by https; absent: there is none; refused: the person or the system says no; busy: another program has it. */
export type CameraFault = 'insecure' | 'absent' | 'refused' | 'busy' | 'failed';
export class CameraError extends Error {
    constructor(readonly fault: CameraFault, detail: string) { super(detail); }
}
export interface Frame { grey: Uint8Array; width: number; height: number }

/** The names are those of the W3C's Media Capture and Streams, getUserMedia. */
function faultOf(e: unknown): CameraFault {
    const name = e instanceof DOMException ? e.name : '';
    if (name === 'NotAllowedError' || name === 'SecurityError') return 'refused';
    if (name === 'NotFoundError' || name === 'OverconstrainedError') return 'absent';
    return name === 'NotReadableError' || name === 'AbortError' ? 'busy' : 'failed';
}

/** Longer side of what is read; more only costs time. */
const READ_SIDE = 1280;

/** A picture of any size as a grey one whose longer side is at most `side`. */
export function greyPicture(picture: CanvasImageSource, width: number, height: number, side: number, canvas = document.createElement('canvas')): Frame {
    const scale = Math.min(1, side / Math.max(width, height)), w = Math.max(1, Math.round(width * scale)), h = Math.max(1, Math.round(height * scale));
    if (canvas.width !== w || canvas.height !== h) [canvas.width, canvas.height] = [w, h];
    const pen = canvas.getContext('2d', { willReadFrequently: true })!;
    pen.drawImage(picture, 0, 0, w, h);
    return { grey: greyOf(pen.getImageData(0, 0, w, h).data), width: w, height: h };
}

export class Camera {
    /** Every camera of the phone, by the browser's name for it. */
    cameras: string[] = [];
    private readonly canvas = document.createElement('canvas');
    private constructor(private readonly video: HTMLVideoElement, private readonly stream: MediaStream, private readonly track: MediaStreamTrack) {}

    /** device '': the rear one where there is a choice. onLost: it went away by itself. Throws a CameraError; then nothing is left on. */
    static async open(video: HTMLVideoElement, device: string, onLost: () => void): Promise<Camera> {
        if (navigator.mediaDevices?.getUserMedia === undefined) throw new CameraError(window.isSecureContext ? 'absent' : 'insecure', 'no mediaDevices');
        const size = { width: { ideal: 1280 }, height: { ideal: 720 } };
        let stream: MediaStream;
        try {
            stream = await navigator.mediaDevices.getUserMedia({ audio: false, video: device === '' ? { facingMode: { ideal: 'environment' }, ...size } : { deviceId: { exact: device }, ...size } });
        } catch (e) {
            throw new CameraError(faultOf(e), String(e));
        }
        const track = stream.getVideoTracks()[0]!, camera = new Camera(video, stream, track);
        try {
            track.addEventListener('ended', onLost);
            video.srcObject = stream;
            await video.play();
            camera.cameras = (await navigator.mediaDevices.enumerateDevices()).filter((d) => d.kind === 'videoinput' && d.deviceId !== '').map((d) => d.deviceId);
        } catch (e) {
            camera.stop();
            throw new CameraError(faultOf(e), String(e));
        }
        return camera;
    }

    get device(): string { return this.track.getSettings().deviceId ?? ''; }
    get next(): string | null { return this.cameras.length < 2 ? null : this.cameras[(this.cameras.indexOf(this.device) + 1) % this.cameras.length]!; }
    get hasLight(): boolean { return (this.track.getCapabilities?.() as { torch?: boolean } | undefined)?.torch === true; }
    /** false: the camera would not. */
    async light(on: boolean): Promise<boolean> {
        return this.track.applyConstraints({ advanced: [{ torch: on } as MediaTrackConstraintSet] }).then(() => true, () => false);
    }

    /** What the camera sees now; null before the first picture. */
    grab(): Frame | null {
        const { videoWidth: w, videoHeight: h } = this.video;
        return w === 0 || h === 0 ? null : greyPicture(this.video, w, h, READ_SIDE, this.canvas);
    }

    stop(): void {
        this.stream.getTracks().forEach((t) => t.stop());
        if (this.video.srcObject === this.stream) this.video.srcObject = null;
    }
}
